"""Stock per SKU: shelf, allocated, free, pipeline by ship day, and the day on which an order of now would ship."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import QuerySet

from inventory.models import RunOutput, Sku
from inventory.rules.calendar import PlantCalendar
from inventory.selectors.past_stock import PastStock, past_stock
from inventory.selectors.plant import ship_calendar
from inventory.selectors.search import sku_search_ranks


@dataclass(frozen=True)
class Arrival:
    """Spools of runs that serve orders from this ship day on; `free` of them are promised to nobody."""

    ship_day: date
    quantity: int
    free: int


@dataclass(frozen=True)
class StockRow:
    """Stock of one SKU. `changed_at` is None where nothing was ever booked, `search_rank` 0 without a search."""

    sku_id: int
    sku_code: str
    name: str
    gtin: str | None
    material: str
    colour_name: str
    hex: str
    diameter_mm: Decimal
    net_g: int
    is_stocked: bool
    shelf_place: str
    on_shelf: int
    allocated: int
    pipeline: tuple[Arrival, ...]
    order_now_ships_on: date | None
    changed_at: datetime | None
    search_rank: int = 0

    @property
    def free(self) -> int:
        return self.on_shelf - self.allocated

    @property
    def next_arrival(self) -> date | None:
        return self.pipeline[0].ship_day if self.pipeline else None


def stock_rows(
    *,
    now: datetime,
    as_of: datetime | None = None,
    skus: Sequence[str] | None = None,
    search: str | None = None,
    changed_since: datetime | None = None,
) -> list[StockRow]:
    """Return stock in the order of SKU codes, of a search the best finds first. Queries do not grow with the rows.

    `now` is the instant of the order that `order_now_ships_on` answers for. With `as_of` only facts known until then
    count; the SKUs that changed since are read from their movements, allocations and plans, the rest as they stand.

    `search` finds SKUs whose code, name, colour, material or GTIN holds each of its words, in any order, in part or
    slightly misspelled.
    """
    ranks = None if search is None else sku_search_ranks(search)
    found = list(_matching(skus, ranks).select_related(*_RELATED).order_by("item__code"))
    past = _past(found, as_of=as_of)
    arrivals = _live_arrivals([sku.pk for sku in found if sku.pk not in past])
    instant = now if as_of is None else as_of
    calendar = ship_calendar(first=instant.date(), last=instant.date() + timedelta(days=60))
    rows = [_row(sku, past.get(sku.pk), arrivals.get(sku.pk, ()), calendar=calendar, now=instant) for sku in found]
    if ranks is not None:
        rows = sorted((replace(row, search_rank=ranks[row.sku_id]) for row in rows), key=lambda row: row.search_rank)
    if changed_since is None:
        return rows
    return [row for row in rows if row.changed_at is not None and row.changed_at >= changed_since]


_RELATED = ("item", "spool_size", "shelf_stock", "filament__material", "filament__colour", "filament__diameter")
_Output = tuple[date, int, int]
"""Shelf day, awaited spools, allocated spools."""


def _matching(codes: Sequence[str] | None, ranks: Mapping[int, int] | None) -> QuerySet[Sku]:
    found = Sku.objects.all() if codes is None else Sku.objects.filter(item__code__in=codes)
    return found if ranks is None else found.filter(pk__in=ranks)


def _past(skus: Sequence[Sku], *, as_of: datetime | None) -> Mapping[int, PastStock]:
    """Stock as of the instant, of the SKUs of which something became known since."""
    if as_of is None:
        return {}
    changed = [sku.pk for sku in skus if hasattr(sku, "shelf_stock") and sku.shelf_stock.changed_at > as_of]
    return past_stock(changed, as_of=as_of) if changed else {}


def _live_arrivals(sku_ids: Sequence[int]) -> dict[int, list[_Output]]:
    arrivals: dict[int, list[_Output]] = {}
    rows = RunOutput.objects.filter(awaited__gt=0, sku_id__in=sku_ids)
    for sku_id, shelf_day, awaited, allocated in rows.values_list("sku_id", "shelf_day", "awaited", "allocated"):
        arrivals.setdefault(sku_id, []).append((shelf_day, awaited, allocated))
    return arrivals


def _row(
    sku: Sku, past: PastStock | None, arrivals: Sequence[_Output], *, calendar: PlantCalendar, now: datetime
) -> StockRow:
    shelf = getattr(sku, "shelf_stock", None)
    on_shelf, allocated = (past.on_shelf, past.allocated) if past else (0, 0)
    changed_at = past.changed_at if past else None
    if past is None and shelf is not None:
        on_shelf, allocated, changed_at = shelf.on_shelf, shelf.allocated, shelf.changed_at
    pipeline = _pipeline(past.outputs if past else arrivals, today=calendar.first_ship_day(now))
    return StockRow(
        sku_id=sku.pk,
        sku_code=sku.item.code,
        name=sku.item.name,
        gtin=sku.gtin,
        material=sku.filament.material.name,
        colour_name=sku.filament.colour.name,
        hex=sku.filament.colour.hex,
        diameter_mm=sku.filament.diameter.nominal_mm,
        net_g=sku.spool_size.net_g,
        is_stocked=sku.is_stocked,
        shelf_place=sku.shelf_place,
        on_shelf=on_shelf,
        allocated=allocated,
        pipeline=pipeline,
        order_now_ships_on=_ships_on(sku, on_shelf - allocated, pipeline, calendar=calendar, now=now),
        changed_at=changed_at,
    )


def _pipeline(outputs: Sequence[_Output], *, today: date) -> tuple[Arrival, ...]:
    """What is awaited by ship day; what should have been shelved before is awaited today."""
    by_day: dict[date, tuple[int, int]] = {}
    for shelf_day, awaited, allocated in outputs:
        day = max(shelf_day, today)
        quantity, free = by_day.get(day, (0, 0))
        by_day[day] = (quantity + awaited, free + awaited - allocated)
    return tuple(Arrival(day, quantity, free) for day, (quantity, free) in sorted(by_day.items()))


def _ships_on(
    sku: Sku, free: int, pipeline: Sequence[Arrival], *, calendar: PlantCalendar, now: datetime
) -> date | None:
    """Ship day of one spool ordered now; None where nothing is free or the SKU is not on sale."""
    today = calendar.local_day(now)
    if today < sku.active_from or (sku.active_to is not None and today > sku.active_to):
        return None
    ship_day = calendar.ship_day_of(now)
    if free > 0:
        return ship_day
    return next((max(ship_day, arrival.ship_day) for arrival in pipeline if arrival.free > 0), None)
