"""The facts of a make list, read from books and plant as of an instant. About twenty queries, whatever the size."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from forecasting.messages import Message
from inventory.models import Sku
from inventory.rules.calendar import PlantCalendar
from inventory.selectors.held_then import HeldThen, held_then
from inventory.selectors.plant import parameters, plant_calendar
from stockplan.planner.core.facts import ListBefore, PlanFacts, SkuFacts
from stockplan.planner.core.parameters import PlanParameters
from stockplan.planner.selectors.plant_facts import (
    changeover_overrides,
    changeover_rule,
    filament_facts,
    hopper_facts,
    line_facts,
    material_facts,
    oven_facts,
    sku_records,
)
from stockplan.planner.selectors.stock_facts import (
    committed_runs,
    live_instructions,
    pipeline,
    shelf_spools,
    store_items,
)

# Calendar days beyond the instant for which closures and holidays are read: the longest horizon and its weekends.
CALENDAR_REACH = timedelta(days=150)


@dataclass(frozen=True)
class SkuDemand:
    """Demand of one SKU by ship day, cumulated, and the level to fill it up to. See `SkuFacts`."""

    late: int
    due: tuple[int, ...]
    mean: tuple[float, ...]
    variance: tuple[float, ...]
    order_up_to: int
    ahead: int = 0


@dataclass(frozen=True)
class Span:
    """The days that a list covers, and the ship days that its demand is given for."""

    first_day: date
    last_day: date
    days: tuple[date, ...]


def calendar_around(as_of: datetime) -> PlantCalendar:
    """Return the plant's calendar around an instant. Six queries."""
    day = as_of.date()
    return plant_calendar(first=day - timedelta(days=7), last=day + CALENDAR_REACH)


def plan_facts(
    *,
    as_of: datetime,
    span: Span,
    calendar: PlantCalendar,
    demand: Mapping[int, SkuDemand],
    later_weeks: Message | None = None,
    listed: ListBefore | None = None,
) -> PlanFacts:
    """Read everything that a make list depends on.

    Parameters
    ----------
    demand
        By SKU id; all SKUs.
    listed
        What the list before has left.
    """
    plant = parameters()
    shelf = shelf_spools(as_of=as_of)
    then = held_then(as_of=as_of)
    return PlanFacts(
        as_of=as_of,
        first_day=span.first_day,
        last_day=span.last_day,
        days=span.days,
        calendar=calendar,
        skus=tuple(_sku_facts(sku, shelf.get(sku.pk, 0), demand[sku.pk]) for sku in sku_records()),
        filaments=filament_facts(),
        materials=material_facts(),
        lines=line_facts(then),
        changeover_rule=changeover_rule(plant),
        overrides=changeover_overrides(),
        committed=committed_runs(as_of=as_of),
        pipeline=pipeline(as_of=as_of),
        hoppers=hopper_facts(then),
        ovens=oven_facts(),
        store=store_items(as_of=as_of),
        instructions=live_instructions(as_of=as_of, day=span.first_day),
        parameters=PlanParameters(
            min_run_min=float(plant.min_run_minutes),
            search_moves=plant.search_moves,
            moved_run_price=float(plant.moved_run_price),
        ),
        later_weeks=later_weeks,
        listed=listed,
    )


def making_facts(filaments: Collection[str], *, as_of: datetime) -> PlanFacts:
    """Return what making some filaments takes, in order: minutes, masses and changeovers. Some twelve queries.

    Stock, demand, committed runs and what lines and hoppers hold are left empty.
    """
    calendar = calendar_around(as_of)
    day = calendar.first_ship_day(as_of)
    none = SkuDemand(0, (0,), (0.0,), (0.0,), 0)
    return PlanFacts(
        as_of=as_of,
        first_day=day,
        last_day=day,
        days=(day,),
        calendar=calendar,
        skus=tuple(_sku_facts(sku, 0, none) for sku in sku_records(filaments=filaments)),
        filaments=filament_facts(filaments=filaments),
        materials=material_facts(),
        lines=line_facts(HeldThen({}, {}), filaments=filaments),
        changeover_rule=changeover_rule(parameters()),
        overrides=changeover_overrides(filaments=filaments),
    ).in_order()


def _sku_facts(sku: Sku, shelf: int, demand: SkuDemand) -> SkuFacts:
    size = sku.spool_size
    return SkuFacts(
        code=sku.item.code,
        filament=sku.filament.code,
        net_g=size.net_g,
        target_kg=(size.net_g + size.give_away_g) / 1000,
        spool_part=size.spool_part.code,
        packed_with=tuple(item.code for item in (size.box_item, size.desiccant_item) if item is not None),
        oven_places=float(size.oven_places),
        max_temp_c=size.max_temp_c,
        shelf=shelf,
        order_up_to=demand.order_up_to,
        ahead=demand.ahead,
        late=demand.late,
        due=demand.due,
        mean=demand.mean,
        variance=demand.variance,
    )
