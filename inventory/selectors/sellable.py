"""Which share of each ship day's window a SKU could be sold in, as far as its channels show what is free."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

import numpy as np
import pandas as pd
from django.db.models import QuerySet, Sum

from inventory.models import Allocation, MovementLine, OrderLineChange, Place
from inventory.rules.calendar import PlantCalendar
from inventory.rules.sellable import StockSteps, sellable_share


def sellable_frame(
    *, as_of: datetime, calendar: PlantCalendar, days: list[date], sku_ids: Sequence[int]
) -> pd.DataFrame:
    """Return the share of each ship day's window in which a SKU could be sold. Five queries.

    A window reaches from the cut-off of the ship day before to that of the day. Free stock is what was known to lie on
    the shelf less what was allocated of it, at every instant of the window. A channel that shows no goods without free
    stock hides its own share of the demand only: with its share h of all units, a SKU that was free for the share a of
    the window could be sold in 1 - h (1 - a) of it. Orders before the books knew any stock of a SKU count as sellable.
    """
    index = pd.Index(days, name="ship_day", dtype=object)
    frame = pd.DataFrame(1.0, index=index, columns=pd.Index(sku_ids))
    hidden = _hiding_share(as_of=as_of)
    if not days or not hidden:
        return frame
    cut_offs = [calendar.cut_off_at(day) for day in days]
    bounds_s = np.array([bound.timestamp() for bound in (cut_offs[0] - timedelta(days=1), *cut_offs)])
    share = sellable_share(_steps(sku_ids, as_of=as_of), bounds_s=bounds_s, n_skus=len(sku_ids))
    return frame - hidden * (1.0 - share)


def _hiding_share(*, as_of: datetime) -> float:
    """Return the share of the units ordered that came through channels that hide what is not free."""
    wanted = OrderLineChange.objects.filter(known_at__lte=as_of).order_by()
    rows = wanted.values_list("order_line__order__channel__hides_unavailable").annotate(Sum("delta"))
    units = dict(rows)
    total = sum(units.values())
    return float(units.get(True, 0) / total) if total else 0.0


def _steps(sku_ids: Sequence[int], *, as_of: datetime) -> StockSteps:
    """Return every change of the free stock of the SKUs that was known by then."""
    moved = MovementLine.objects.filter(item_id__in=sku_ids, movement__known_at__lte=as_of)
    held = Allocation.objects.filter(order_line__sku_id__in=sku_ids, run_output=None)
    parts = [
        _rows(moved.filter(to_place__kind=Place.Kind.SHELF), "item_id", "movement__known_at", sign=1),
        _rows(moved.filter(from_place__kind=Place.Kind.SHELF), "item_id", "movement__known_at", sign=-1),
        _rows(held.filter(created_known_at__lte=as_of), "order_line__sku_id", "created_known_at", sign=-1),
        _rows(held.filter(ended_known_at__lte=as_of), "order_line__sku_id", "ended_known_at", sign=1),
    ]
    sku, at, spools = (np.concatenate(column) for column in zip(*parts, strict=True))
    rows = pd.Index(sku_ids).get_indexer(pd.Index(sku.astype(np.int64)))
    return StockSteps(np.asarray(rows, dtype=np.int64), at, spools)


def _rows(
    rows: QuerySet[MovementLine] | QuerySet[Allocation], sku: str, known_at: str, *, sign: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return SKU, instant and signed spools. One query."""
    found = [(s, at.timestamp(), sign * float(n)) for s, at, n in rows.values_list(sku, known_at, "quantity")]
    columns = np.array(found, dtype=float).reshape(-1, 3)
    return columns[:, 0], columns[:, 1], columns[:, 2]
