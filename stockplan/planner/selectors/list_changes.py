"""What changed from the list before to a list, and why."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from forecasting.messages import Message
from stockplan.planner.core.list_changes import PlacedRun, change_sentence, list_changes
from stockplan.planner.models import ListedRun, ListedRunSize, MakeList, NotListed
from stockplan.planner.selectors.list_pages import MakeListHead
from stockplan.planner.selectors.make_lists import plant_zone


@dataclass(frozen=True)
class ChangeDetail:
    """A run that differs from the list before: what became of it, and why."""

    what: Message
    why: Message | None


def changes_since(shown: MakeListHead) -> tuple[datetime | None, tuple[ChangeDetail, ...]]:
    """Return when the list before a list was made, None where there is none, and the runs that differ. Eight queries.

    Runs of the list before that were released meanwhile are no change: the new list stands on them.
    """
    before = _list_before(shown)
    if before is None:
        return None, ()
    found = list_changes(stored_runs(before.pk, but_released=True), stored_runs(shown.id), as_of=shown.as_of)
    zone, reasons = plant_zone(), _reasons(shown.id, {change.run.filament for change in found})
    return before.as_of, tuple(
        ChangeDetail(change_sentence(change, zone=zone), reasons.get(change.run.filament)) for change in found
    )


def stored_runs(make_list_id: UUID, *, but_released: bool = False) -> list[PlacedRun]:
    """Return the runs of a stored list that have a place on a line, in rank order. Two queries."""
    placed = ListedRun.objects.filter(make_list_id=make_list_id, line__isnull=False, start__isnull=False)
    if but_released:
        placed = placed.filter(run__isnull=True)
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


def _reasons(make_list_id: UUID, filaments: Collection[str]) -> Mapping[str, Message]:
    """Return why each of these filaments stands where it stands on a list, or is not on it. Two queries.

    Of the runs of one filament that of the best rank speaks.
    """
    left = NotListed.objects.filter(make_list_id=make_list_id, filament__code__in=filaments)
    runs = ListedRun.objects.filter(make_list_id=make_list_id, filament__code__in=filaments).order_by("-rank")
    sentences = dict(left.values_list("filament__code", "sentence"))
    return sentences | dict(runs.values_list("filament__code", "reason"))
