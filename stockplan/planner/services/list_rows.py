"""The rows of a stored make list: runs with their sizes, and why other filaments are not on it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from inventory.models import Filament, Hopper, Line, Sku
from stockplan.planner.core.explained import Explanation
from stockplan.planner.core.finishing import Arrival
from stockplan.planner.core.floor import Lot
from stockplan.planner.core.left_out import BlockedRun
from stockplan.planner.core.materials import Missing
from stockplan.planner.core.planning import ListedRun as PlannedRun
from stockplan.planner.core.planning import Plan
from stockplan.planner.core.ranking import RankedRun
from stockplan.planner.models import ListedRun, ListedRunSize, MakeList, NotListed


def store_rows(make_list: MakeList, plan: Plan, explained: Sequence[Explanation]) -> None:
    """Write all rows of a list. Seven queries, whatever its length.

    Parameters
    ----------
    explained
        Each placed run, in the order of rank.
    """
    keys = _Keys()
    places = _places(plan)
    listed = [
        _placed_row(make_list, plan, run, explanation=explanation, keys=keys, places=places)
        for run, explanation in zip(plan.runs, explained, strict=True)
    ]
    listed += [
        _blocked_row(make_list, plan, run, keys, rank=len(plan.runs) + i) for i, run in enumerate(plan.blocked, start=1)
    ]
    rows = ListedRun.objects.bulk_create(listed)
    placed = {run.ranked.rank: run.ranked for run in plan.runs}
    lots = [run.ranked.run.lot for run in plan.runs] + [run.lot for run in plan.blocked]
    ListedRunSize.objects.bulk_create(
        size for row, lot in zip(rows, lots, strict=True) for size in _sizes(row, plan, lot, placed.get(row.rank), keys)
    )
    NotListed.objects.bulk_create(
        NotListed(
            make_list=make_list,
            filament_id=keys.filament[left.filament],
            cause=left.cause.value,
            sentence=left.sentence,
        )
        for left in plan.left_out
    )


class _Keys:
    """Primary keys by code."""

    def __init__(self) -> None:
        self.filament = dict(Filament.objects.values_list("code", "pk"))
        self.line = dict(Line.objects.values_list("code", "pk"))
        self.hopper = dict(Hopper.objects.values_list("code", "pk"))
        self.sku = dict(Sku.objects.values_list("item__code", "pk"))


def _places(plan: Plan) -> dict[int, int]:
    """Return each run's place on its line by rank, in order of time."""
    count: dict[str, int] = {}
    places = {}
    for run in sorted(plan.runs, key=lambda r: (r.ranked.run.timing.start_min, r.ranked.rank)):
        line = run.ranked.run.line
        places[run.ranked.rank] = count[line] = count.get(line, 0) + 1
    return places


def _placed_row(
    make_list: MakeList,
    plan: Plan,
    planned: PlannedRun,
    *,
    explanation: Explanation,
    keys: _Keys,
    places: dict[int, int],
) -> ListedRun:
    ranked, run, timing = planned.ranked, planned.ranked.run, planned.ranked.run.timing
    plant, clock = plan.plant, plan.plant.clock
    masses = plant.masses(run.line, timing.changeover_from, run.lot.filament, run.lot.spools)
    shelf_at = clock.instant(run.shelf_min)
    return ListedRun(
        make_list=make_list,
        rank=ranked.rank,
        filament_id=keys.filament[run.lot.filament],
        line_id=keys.line[run.line],
        place_on_line=places[ranked.rank],
        changeover_from_id=None if timing.changeover_from is None else keys.filament[timing.changeover_from],
        changeover_min=timing.changeover_min,
        run_min=timing.run_min,
        purge_kg=masses.purge_kg,
        resin_kg=masses.resin_kg,
        concentrate_kg=masses.concentrate_kg,
        hopper_id=None if timing.charge is None else keys.hopper[timing.charge.hopper],
        drying_from=None if run.dries_from_min is None else clock.instant(run.dries_from_min),
        start=clock.instant(timing.start_min),
        end=clock.instant(timing.end_min),
        shelf_at=shelf_at,
        shelf_day=plant.facts.calendar.first_ship_day(shelf_at),
        misses_avoided=ranked.misses_avoided,
        worth_per_hour=ranked.worth_per_hour,
        runs_out_on=_day(plan, planned.out_on),
        reason=planned.reason,
        explanation=list(explanation.sentences),
        more_if_dropped=explanation.if_dropped,
        more_a_day_later=explanation.day_later,
        is_pinned=run.lot.is_pinned,
    )


def _blocked_row(make_list: MakeList, plan: Plan, run: BlockedRun, keys: _Keys, *, rank: int) -> ListedRun:
    return ListedRun(
        make_list=make_list,
        rank=rank,
        filament_id=keys.filament[run.lot.filament],
        misses_avoided=0.0,
        worth_per_hour=0.0,
        runs_out_on=_day(plan, run.out_on),
        reason=run.reason,
        is_blocked=True,
        missing=[_missing(row) for row in run.missing],
    )


def _sizes(row: ListedRun, plan: Plan, lot: Lot, ranked: RankedRun | None, keys: _Keys) -> list[ListedRunSize]:
    """Return the sizes of a run; one that is blocked (ranked None) avoids nothing and arrives never."""
    found = []
    for at, (sku, spools) in enumerate(zip(plan.plant.skus_of[lot.filament], lot.spools, strict=True)):
        facts = plan.plant.facts.skus[sku]
        if spools:
            found.append(
                ListedRunSize(
                    listed_run=row,
                    sku_id=keys.sku[facts.code],
                    spools=spools,
                    free=facts.shelf - facts.late - facts.due[0],
                    order_up_to=facts.order_up_to,
                    misses_avoided=0.0 if ranked is None else ranked.avoided[at],
                    arrivals=[] if ranked is None else [_arrival(plan, row) for row in ranked.run.arrivals[at]],
                )
            )
    return found


def _arrival(plan: Plan, arrival: Arrival) -> dict[str, Any]:
    day = plan.plant.facts.calendar.first_ship_day(plan.plant.clock.instant(arrival.shelf_min))
    return {"day": day.isoformat(), "spools": arrival.spools}


def _missing(row: Missing) -> dict[str, Any]:
    return {
        "item": row.item,
        "name": row.name,
        "quantity": round(row.quantity, 3),
        "unit": row.unit,
        "buy_by": row.buy_by.isoformat(),
    }


def _day(plan: Plan, index: int | None) -> Any:
    return None if index is None else plan.plant.facts.days[index]
