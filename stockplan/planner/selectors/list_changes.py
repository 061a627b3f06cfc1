"""What changed from the list before to a list, and why."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Q, Sum

from forecasting.messages import Message, counted, message
from inventory.models import OrderLineChange, Run
from stockplan.planner.core.facts import ListBefore, PlacedRun
from stockplan.planner.core.list_changes import change_sentence, list_changes
from stockplan.planner.models import ListedRun, ListedRunSize, MakeList, NotListed, PlannerInstruction
from stockplan.planner.selectors.list_pages import MakeListHead
from stockplan.planner.selectors.make_lists import plant_zone

NOT_RELEASED = Q(run__isnull=True)
# Runs that the planner left to the list.
FREE = Q(is_pinned=False, is_blocked=False)


@dataclass(frozen=True)
class ChangeDetail:
    """A run that differs from the list before: what became of it, what happened to its filament since, and why it is.

    `why` is the reason with which the filament stands on the new list, or is left out.
    """

    what: Message
    since: Message
    why: Message | None


def changes_since(shown: MakeListHead) -> tuple[datetime | None, tuple[ChangeDetail, ...]]:
    """Return when the list before a list was made, None where there is none, and the runs that differ. Twelve queries.

    Runs of the list before that were released meanwhile are no change: the new list stands on them.
    """
    before = _list_before(shown)
    if before is None:
        return None, ()
    found = list_changes(stored_runs(before.pk, only=NOT_RELEASED), stored_runs(shown.id), as_of=shown.as_of)
    zone, reasons = plant_zone(), _reasons(shown.id, {change.run.filament for change in found})
    happened = _happened(before.as_of, shown.as_of)
    released = Run.objects.filter(released_known_at__gt=before.as_of, released_known_at__lte=shown.as_of).count()
    return before.as_of, tuple(
        ChangeDetail(
            change_sentence(change, zone=zone),
            _since(happened.get(change.run.filament, ()), released=released),
            reasons.get(change.run.filament),
        )
        for change in found
    )


def listed_before(*, as_of: datetime) -> ListBefore | None:
    """Return what the newest list of an earlier instant has left: neither pinned, blocked nor released by now.

    None: there is no such list, or nothing left. Three queries.
    """
    older = MakeList.objects.filter(as_of__lt=as_of, created_at__lte=as_of).order_by("-as_of", "-created_at").first()
    if older is None:
        return None
    waiting = Q(run__isnull=True) | Q(run__released_known_at__gt=as_of)
    runs = tuple(stored_runs(older.pk, only=FREE & waiting))
    return ListBefore(older.as_of, runs) if runs else None


def stored_runs(make_list_id: UUID, *, only: Q | None = None) -> list[PlacedRun]:
    """Return the runs of a stored list that have a place on a line, in rank order. Two queries."""
    placed = ListedRun.objects.filter(make_list_id=make_list_id, line__isnull=False, start__isnull=False)
    if only is not None:
        placed = placed.filter(only)
    spools: defaultdict[int, dict[str, int]] = defaultdict(dict)
    sizes = ListedRunSize.objects.filter(listed_run__make_list_id=make_list_id)
    for run_id, sku_code, count in sizes.values_list("listed_run_id", "sku__item__code", "spools"):
        spools[run_id][sku_code] = count
    rows = placed.order_by("rank").values_list("pk", "filament__code", "line__code", "start")
    return [PlacedRun(filament, line, start, spools[pk]) for pk, filament, line, start in rows if start]


def _list_before(shown: MakeListHead) -> MakeList | None:
    """Return the newest list that is older than a list. One query."""
    older = MakeList.objects.filter(as_of__lte=shown.as_of, created_at__lt=shown.created_at).exclude(pk=shown.id)
    return older.order_by("-as_of", "-created_at").first()


def _happened(after: datetime, until: datetime) -> Mapping[str, Sequence[Message]]:
    """Return what the books and the planner learned of each filament between two instants. Three queries."""
    between = (after, until)
    found: defaultdict[str, list[Message]] = defaultdict(list)
    rows = OrderLineChange.objects.filter(known_at__gt=after, known_at__lte=until).order_by()
    for filament, n in rows.values_list("order_line__sku__filament__code").annotate(n=Sum("delta")):
        if n > 0:
            found[filament].append(counted("{n} spool was ordered", "{n} spools were ordered", n=n))
        elif n < 0:
            found[filament].append(counted("{n} spool was taken back", "{n} spools were taken back", n=-n))
    told = PlannerInstruction.objects.filter(Q(created_at__range=between) | Q(withdrawn_at__range=between))
    for filament in told.values_list("filament__code", flat=True).distinct().order_by("filament__code"):
        found[filament].append(message("the planner gave or ended an instruction"))
    ended = Run.objects.filter(Q(finished_known_at__range=between) | Q(cancelled_known_at__range=between))
    for filament in ended.values_list("filament__code", flat=True).distinct().order_by("filament__code"):
        found[filament].append(message("a run of it was finished or cancelled"))
    return found


def _since(happened: Sequence[Message], *, released: int) -> Message:
    if happened:
        return message("Since then {parts}.", parts=tuple(happened))
    if released:
        return counted(
            "Nothing of it was ordered, instructed or finished since. {n} run was released: its line, its hopper and "
            "its materials are kept for it.",
            "Nothing of it was ordered, instructed or finished since. {n} runs were released: their lines, hoppers "
            "and materials are kept for them.",
            n=released,
        )
    return message(
        "Nothing of it was ordered, instructed or finished since: time that passed, stock, other filaments or the "
        "search moved it."
    )


def _reasons(make_list_id: UUID, filaments: Collection[str]) -> Mapping[str, Message]:
    """Return why each of these filaments stands where it stands on a list, or is not on it. Two queries.

    Of the runs of one filament that of the best rank speaks.
    """
    left = NotListed.objects.filter(make_list_id=make_list_id, filament__code__in=filaments)
    runs = ListedRun.objects.filter(make_list_id=make_list_id, filament__code__in=filaments).order_by("-rank")
    sentences = dict(left.values_list("filament__code", "sentence"))
    return sentences | dict(runs.values_list("filament__code", "reason"))
