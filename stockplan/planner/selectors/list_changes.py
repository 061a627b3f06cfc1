"""What changed from the list before to a list, and why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from stockplan.planner.core.list_changes import PlacedRun, change_sentence, list_changes
from stockplan.planner.models import MakeList
from stockplan.planner.selectors.make_list_details import ListedRunDetail, MakeListDetail
from stockplan.planner.selectors.make_lists import make_list_detail, plant_zone


@dataclass(frozen=True)
class ChangeDetail:
    """A run that differs from the list before: what became of it, and why."""

    what: str
    why: str


def changes_since(shown: MakeListDetail) -> tuple[datetime | None, tuple[ChangeDetail, ...]]:
    """Return when the list before a list was made, None where there is none, and the runs that differ. Seven queries.

    Runs of the list before that were released meanwhile are no change: the new list stands on them.
    """
    before = _list_before(shown)
    if before is None:
        return None, ()
    old, zone = make_list_detail(before), plant_zone()
    found = list_changes(stored_runs(run for run in old.runs if run.run_code is None), stored_runs(shown.runs))
    reasons = _reasons(shown)
    return old.as_of, tuple(
        ChangeDetail(change_sentence(change, zone=zone), reasons.get(change.run.filament, "")) for change in found
    )


def stored_runs(runs: Iterable[ListedRunDetail]) -> list[PlacedRun]:
    """Return the runs of a stored list that have a place on a line."""
    return [
        PlacedRun(run.filament_code, run.line_code, run.start, {size.sku_code: size.spools for size in run.sizes})
        for run in runs
        if run.line_code is not None and run.start is not None
    ]


def _list_before(shown: MakeListDetail) -> UUID | None:
    """Return the newest list that is older than a list. One query."""
    older = MakeList.objects.filter(as_of__lte=shown.as_of, created_at__lt=shown.created_at).exclude(pk=shown.id)
    return older.order_by("-as_of", "-created_at").values_list("pk", flat=True).first()


def _reasons(shown: MakeListDetail) -> Mapping[str, str]:
    """Return why each filament stands where it stands on a list, or is not on it; of its runs that of the best rank."""
    reasons = {left.filament_code: left.sentence for left in shown.not_listed}
    return reasons | {run.filament_code: run.reason for run in reversed(shown.runs)}
