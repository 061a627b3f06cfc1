"""Which day the lines could give for spools that no planned supply covers. Called by the books through a setting."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime

from inventory.models import Sku
from stockplan.planner.core.floor import Floor, Lot
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.plant import plant_of
from stockplan.planner.selectors.facts import SkuDemand, Span, calendar_around, plan_facts

# How many ship days ahead capacity is looked at.
CAPACITY_DAYS = 20


def earliest_capacity_days(
    wanted: Collection[tuple[int, int]], *, as_of: datetime
) -> dict[tuple[int, int], date | None]:
    """Return the first ship day that a run begun next could serve, for each SKU id with its number of spools.

    None where no line can make it. Each is looked at by itself, as the next run of its best line after what is
    released, with the materials in the store, ovens and packing as they are taken. A longer list may well come first:
    this is the earliest day, not a promise.
    """
    calendar = calendar_around(as_of)
    axis = [calendar.first_ship_day(as_of)]
    while len(axis) < CAPACITY_DAYS:
        axis.append(calendar.nth_ship_day_after(axis[-1], 1))
    days = tuple(axis)
    none = SkuDemand(0, (0,) * len(days), (0.0,) * len(days), (0.0,) * len(days), 0)
    codes = dict(Sku.objects.values_list("pk", "item__code"))
    demand = dict.fromkeys(codes, none)
    span = Span(calendar.local_day(as_of), days[-1], days)
    plant = plant_of(plan_facts(as_of=as_of, span=span, calendar=calendar, demand=demand).in_order())
    floor = opening_of(plant).floor
    index = {sku.code: i for i, sku in enumerate(plant.facts.skus)}
    return {(pk, quantity): _earliest(floor, index[codes[pk]], quantity) for pk, quantity in sorted(wanted)}


def _earliest(floor: Floor, sku: int, quantity: int) -> date | None:
    plant = floor.plant
    facts = plant.facts.skus[sku]
    spools = tuple(quantity if s == sku else 0 for s in plant.skus_of[facts.filament])
    days = [day for line in plant.lines_for(facts.filament) if (day := _shelf_day(floor, facts.filament, line, spools))]
    return min(days, default=None)


def _shelf_day(floor: Floor, filament: str, line: str, spools: tuple[int, ...]) -> date | None:
    """Return the first ship day of a run begun next on a line; None without working time or material for it."""
    trial = floor.copy()
    holds = trial.lines[line].holds
    lot = Lot(filament, spools)
    timing = trial.time(lot, line)
    if timing is None or trial.store.affordable(trial.plant, line, holds, filament, spools) != spools:
        return None
    run = trial.shelve(trial.place(lot, line, timing))
    return trial.plant.facts.calendar.first_ship_day(trial.plant.clock.instant(run.shelf_min))
