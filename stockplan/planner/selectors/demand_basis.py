"""What a forecast is computed from: demand as received, open lines, how orders arrive, what the SKUs are like."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
import pandas as pd
from django.db.models import Min
from numpy.typing import NDArray

from forecasting.arrival_profile import fit_arrival_profile
from inventory.models import Order, Sku
from inventory.rules.calendar import PlantCalendar
from inventory.selectors.demand import (
    REGULAR_KINDS,
    demand_frames,
    open_demand_frame,
    order_lines_frame,
)
from inventory.selectors.plant import plant_calendar
from inventory.selectors.sellable import sellable_frame
from stockplan.planner.selectors.announcements import Announcement, announcements_at
from stockplan.planner.selectors.plant_facts import sku_records

# Orders of this many days show how a window fills up and how many lines an order has.
RECENT_DAYS = 180


@dataclass(frozen=True)
class DemandBasis:
    """Demand as the books knew it at an instant.

    Attributes
    ----------
    history
        Units due per ship day (rows) and SKU id (columns), windows that are closed.
    orders
        How many order lines the history comes from; labelled as the history.
    available
        Share of each day of the history in which each SKU could be sold; labelled as the history.
    open_lines
        Columns sku_id, due_day, quantity, is_late.
    share_to_arrive
        Share of the running window's demand that has not arrived yet.
    recent_lines
        Lines of the orders of the last days: columns order_id, received_at, due_day, sku_id, quantity.
    attributes
        Material, colour, size and diameter by SKU id.
    is_stocked, is_on_sale
        By SKU id.
    announcements
        What makes demand differ on some days.
    """

    history: pd.DataFrame
    orders: pd.DataFrame
    available: pd.DataFrame
    open_lines: pd.DataFrame
    share_to_arrive: float
    recent_lines: pd.DataFrame
    attributes: pd.DataFrame
    is_stocked: pd.Series
    is_on_sale: pd.Series
    announcements: tuple[Announcement, ...]

    @property
    def lines_per_order(self) -> float:
        """Mean number of lines of a recent order."""
        return float(self.recent_lines.groupby("order_id").size().mean()) if len(self.recent_lines) else 1.0

    @property
    def digest(self) -> str:
        """SHA-256 of everything in it."""
        found = hashlib.sha256()
        for table in (self.history, self.orders, self.available):
            # Days by SKUs, all numbers: their bytes say as much as their digits and are had a hundred times as fast.
            found.update(repr((table.shape, list(table.index), list(table.columns))).encode())
            found.update(np.ascontiguousarray(table, dtype=np.float64).tobytes())
        parts = [
            self.open_lines.to_csv(),
            self.attributes.to_csv(),
            self.is_stocked.to_csv(),
            self.is_on_sale.to_csv(),
            repr(self.announcements),
            repr((self.share_to_arrive, self.lines_per_order, len(self.recent_lines))),
        ]
        found.update("\n".join(parts).encode())
        return found.hexdigest()


def demand_basis(*, as_of: datetime, calendar: PlantCalendar) -> DemandBasis:
    """Read the demand known as of an instant. About twenty queries, whatever the size."""
    skus = sku_records()
    today = calendar.ship_day_of(as_of)
    recent = order_lines_frame(as_of=as_of, kinds=REGULAR_KINDS, received_since=as_of - timedelta(days=RECENT_DAYS))
    past = _calendar_of_history(as_of)
    history, orders = demand_frames(as_of=as_of, calendar=past)
    return DemandBasis(
        history=history,
        orders=orders,
        available=sellable_frame(
            as_of=as_of, calendar=past, days=list(history.index), sku_ids=[int(sku) for sku in history.columns]
        ),
        open_lines=open_demand_frame(as_of=as_of),
        share_to_arrive=_share_to_arrive(recent, as_of=as_of, calendar=calendar),
        recent_lines=recent,
        attributes=_attributes(skus),
        is_stocked=pd.Series({sku.pk: sku.is_stocked for sku in skus}, dtype=bool),
        is_on_sale=pd.Series({sku.pk: _is_on_sale(sku, today) for sku in skus}, dtype=bool),
        announcements=announcements_at(as_of),
    )


def _calendar_of_history(as_of: datetime) -> PlantCalendar:
    first = Order.objects.filter(known_at__lte=as_of).aggregate(first=Min("due_day"))["first"]
    return plant_calendar(first=first or as_of.date(), last=as_of.date() + timedelta(days=30))


def _share_to_arrive(lines: pd.DataFrame, *, as_of: datetime, calendar: PlantCalendar) -> float:
    """Return the share of the running window's demand still to come, from recent lines of closed windows."""
    closed = lines[lines["due_day"] < calendar.ship_day_of(as_of)]
    if closed.empty:
        return 1.0
    cut_offs = _cut_offs(closed["due_day"], calendar)
    minutes = (cut_offs - pd.to_datetime(closed["received_at"], utc=True)).dt.total_seconds() / 60
    usable = (minutes > 0).to_numpy()
    if not usable.any():
        return 1.0
    profile = fit_arrival_profile(minutes_before_cut_off=minutes[usable], units=closed["quantity"][usable])
    left = (calendar.cut_off_at(calendar.ship_day_of(as_of)) - as_of).total_seconds() / 60
    return float(profile.share_to_arrive(left))


def _cut_offs(due_days: pd.Series, calendar: PlantCalendar) -> pd.Series:
    """Return the cut-off of each due day, in UTC; a day that is no ship day any more has none."""
    known = {day: calendar.cut_off_at(day) if calendar.is_ship_day(day) else None for day in due_days.unique()}
    return pd.to_datetime(due_days.map(known), utc=True)


def _attributes(skus: list[Sku]) -> pd.DataFrame:
    rows = {
        sku.pk: {
            "material": sku.filament.material.code,
            "colour": sku.filament.colour.code,
            "size": sku.spool_size.code,
            "diameter": f"{sku.filament.diameter.nominal_mm}",
        }
        for sku in skus
    }
    return pd.DataFrame.from_dict(rows, orient="index", columns=["material", "colour", "size", "diameter"])


def _is_on_sale(sku: Sku, day: date) -> bool:
    return sku.active_from <= day and (sku.active_to is None or day <= sku.active_to)


def open_by_day(
    basis: DemandBasis, *, sku_ids: Sequence[int], days: Sequence[date]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return late units (S,) and units due by each day (S, T), cumulated.

    What is due before the first day and not late yet is due on the first day.
    """
    late = np.zeros(len(sku_ids), dtype=np.int64)
    due = np.zeros((len(sku_ids), len(days) + 1), dtype=np.int64)
    lines = basis.open_lines
    rows = pd.Index(list(sku_ids)).get_indexer(pd.Index(lines["sku_id"]))
    columns = np.searchsorted(_ordinals(days), _ordinals(lines["due_day"]))
    units, is_late = lines["quantity"].to_numpy(dtype=np.int64), lines["is_late"].to_numpy(dtype=bool)
    np.add.at(late, rows[is_late], units[is_late])
    np.add.at(due, (rows[~is_late], columns[~is_late]), units[~is_late])
    return late, due[:, :-1].cumsum(axis=1)


def _ordinals(days: Iterable[date]) -> NDArray[np.int64]:
    return np.array([day.toordinal() for day in days], dtype=np.int64)
