"""Demand as tables: what was due on each ship day, what is open, and the order lines as they arrived.

Each frame is one or two queries of plain values, summed by the database or by pandas; no loop over lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
import pandas as pd
from django.db.models import F, Q, QuerySet, Sum
from numpy.typing import NDArray

from inventory.models import OrderLineChange, ShipmentLine, Sku
from inventory.rules.calendar import PlantCalendar
from inventory.selectors.plant import ship_calendar

REGULAR_KINDS = ("regular", "own_use")


def demand_frame(*, as_of: datetime, calendar: PlantCalendar, kinds: Sequence[str] = REGULAR_KINDS) -> pd.DataFrame:
    """Return spools due per ship day and SKU, from orders as received. Two queries.

    Rows are the ship days whose cut-off is past as of the instant, from the first due day in the books on; columns
    are the ids of all SKUs. What a customer amends or cancels changes demand, what the shop cancels does not. Days
    on which a SKU was not on sale and nothing was due are NaN, days without demand 0. Demand of a day that is no
    ship day (a closure that was entered later) counts on the next one.
    """
    return demand_frames(as_of=as_of, calendar=calendar, kinds=kinds)[0]


def demand_frames(
    *, as_of: datetime, calendar: PlantCalendar, kinds: Sequence[str] = REGULAR_KINDS
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the demand frame and how many order lines are behind each of its cells, NaN where that is. Two queries."""
    skus = _sale_windows()
    lines = _wanted_lines(as_of=as_of, kinds=kinds)
    if lines.empty or skus.empty:
        none = pd.DataFrame(index=pd.Index([], name="ship_day", dtype=object), columns=skus.index, dtype=float)
        return none, none.copy()
    days = calendar.ship_days(lines["due_day"].min(), calendar.ship_day_of(as_of) - timedelta(days=1))
    index = pd.Index(days, name="ship_day", dtype=object)
    units = _by_day(lines, days=days, sku_ids=skus.index)
    count = _by_day(lines.assign(quantity=lines["quantity"] > 0), days=days, sku_ids=skus.index)
    is_known = _on_sale(skus, days) | (units > 0)
    demand, behind = (pd.DataFrame(table, index=index, columns=skus.index).where(is_known) for table in (units, count))
    return demand, behind


def open_demand_frame(*, as_of: datetime) -> pd.DataFrame:
    """Return what is ordered and not yet shipped: columns sku_id, due_day, quantity, is_late. Five queries.

    Orders of every kind, also those that were due before. Late are those whose due day's pick-up is past.
    """
    day = as_of.date()
    calendar = ship_calendar(first=day - timedelta(days=1), last=day + timedelta(days=60))
    today = calendar.first_ship_day(as_of)
    ordered = _changes(as_of=as_of).filter(
        Q(order_line__order__is_history=False) | Q(order_line__shipped_complete_day__gte=today)
    )
    shipped = ShipmentLine.objects.filter(shipment__known_at__lte=as_of, order_line__order__is_history=False)
    both = pd.concat([_sums(ordered, "delta"), _sums(shipped, "quantity", sign=-1)])
    left = both.groupby(["due_day", "sku_id"], sort=True)["quantity"].sum().reset_index()
    frame = left.loc[left["quantity"] > 0, ["sku_id", "due_day", "quantity"]].reset_index(drop=True)
    return frame.assign(is_late=frame["due_day"] < today)


def order_lines_frame(
    *, as_of: datetime, kinds: Sequence[str] | None = None, received_since: datetime | None = None
) -> pd.DataFrame:
    """Return the order lines known as of the instant, one a row, as they were wanted then. One query.

    Columns order_id, received_at, due_day, sku_id, quantity, kind, channel; the quantity leaves out what the shop
    cancelled. Lines that their customer cancelled are not there.
    """
    columns = {
        "order_id": F("order_line__order_id"),
        "received_at": F("order_line__order__received_at"),
        "due_day": F("order_line__order__due_day"),
        "sku_id": F("order_line__sku_id"),
        "kind": F("order_line__order__kind"),
        "channel": F("order_line__order__channel__code"),
    }
    rows = _changes(as_of=as_of).exclude(reason=OrderLineChange.Reason.CANCELLED_BY_SHOP)
    if kinds is not None:
        rows = rows.filter(order_line__order__kind__in=kinds)
    if received_since is not None:
        rows = rows.filter(order_line__order__received_at__gte=received_since)
    values = rows.values_list("order_line_id", *columns.values()).annotate(quantity=Sum("delta")).order_by()
    frame = pd.DataFrame.from_records(list(values), columns=["line_id", *columns, "quantity"])
    frame = frame[frame["quantity"] > 0].sort_values(["received_at", "order_id", "line_id"], ignore_index=True)
    return frame[["order_id", "received_at", "due_day", "sku_id", "quantity", "kind", "channel"]]


def _changes(*, as_of: datetime) -> QuerySet[OrderLineChange]:
    return OrderLineChange.objects.filter(known_at__lte=as_of)


def _sums(rows: QuerySet[OrderLineChange] | QuerySet[ShipmentLine], column: str, *, sign: int = 1) -> pd.DataFrame:
    """Spools by SKU and due day. One query."""
    keys = ("order_line__sku_id", "order_line__order__due_day")
    values = rows.order_by().values_list(*keys).annotate(quantity=Sum(column))
    frame = pd.DataFrame.from_records(list(values), columns=["sku_id", "due_day", "quantity"])
    return frame.astype({"sku_id": "int64", "quantity": "int64"}).assign(quantity=lambda sums: sign * sums["quantity"])


def _wanted_lines(*, as_of: datetime, kinds: Sequence[str]) -> pd.DataFrame:
    """Return what is wanted of each order line, 0 of one taken back, as sku_id, due_day, quantity. One query."""
    asked = _changes(as_of=as_of).filter(order_line__order__kind__in=kinds)
    asked = asked.exclude(reason=OrderLineChange.Reason.CANCELLED_BY_SHOP).order_by()
    keys = ("order_line_id", "order_line__sku_id", "order_line__order__due_day")
    rows = asked.values_list(*keys).annotate(quantity=Sum("delta"))
    return pd.DataFrame.from_records(list(rows), columns=["line_id", "sku_id", "due_day", "quantity"])


def _sale_windows() -> pd.DataFrame:
    rows = Sku.objects.order_by("pk").values_list("pk", "active_from", "active_to")
    frame = pd.DataFrame.from_records(list(rows), columns=["sku_id", "active_from", "active_to"])
    return frame.set_index("sku_id")


def _by_day(sums: pd.DataFrame, *, days: Sequence[object], sku_ids: pd.Index) -> NDArray[np.float64]:
    """Sum into a table of ship days by SKUs; days past the last one are left out."""
    ordinals = np.array(days, dtype="datetime64[D]")
    # Many rows share few days, and a date of Python's takes a microsecond to turn into a number.
    day_of_row, due_days = pd.factorize(sums["due_day"])
    rows = np.searchsorted(ordinals, np.array(due_days, dtype="datetime64[D]"))[day_of_row]
    columns = sku_ids.get_indexer(pd.Index(sums["sku_id"]))
    table = np.zeros((len(ordinals), len(sku_ids)))
    inside = rows < len(ordinals)
    np.add.at(table, (rows[inside], columns[inside]), sums["quantity"].to_numpy()[inside])
    return table


def _on_sale(skus: pd.DataFrame, days: Sequence[object]) -> NDArray[np.bool_]:
    ordinals = np.array(days, dtype="datetime64[D]")[:, None]
    first = skus["active_from"].to_numpy(dtype="datetime64[D]")
    last = skus["active_to"].to_numpy(dtype="datetime64[D]")
    on_sale: NDArray[np.bool_] = (ordinals >= first) & (np.isnat(last) | (ordinals <= last))
    return on_sale
