"""Projected stock of one SKU under a make list: what the fan chart shows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

import numpy as np
from django.db.models import Q

from forecasting.distribution import NegativeBinomial
from forecasting.messages import Message
from inventory.models import Sku
from inventory.selectors.run_plans import output_plans
from stockplan.planner.core.shortage import Floats
from stockplan.planner.models import ListedRunSize, MakeList, SkuForecast
from stockplan.planner.selectors.make_lists import MakeListNotFoundError
from stockplan.planner.selectors.stock_facts import pipeline, shelf_spools

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)


@dataclass(frozen=True)
class ProjectionRow:
    """Stock of an SKU at the end of a ship day: shelf less what is open. Below 0: units that are late.

    `quantiles` are of the stock, in the order of `QUANTILES`; `supply` is what reaches the shelf for that day.
    """

    day: date
    mean: float
    quantiles: tuple[float, ...]
    supply: int


@dataclass(frozen=True)
class Projection:
    """Projected stock of one SKU, from the list's own instant and forecast; nothing is planned after its last day."""

    sku_code: str
    as_of: datetime
    list_last_day: date
    on_shelf: int
    order_up_to: int
    method: str
    reason: Message
    rows: tuple[ProjectionRow, ...]


def projected_stock(sku_code: str, make_list_id: UUID | str) -> Projection:
    """Return the fan of projected stock with the list's runs. About ten queries.

    Raises
    ------
    MakeListNotFoundError
        If there is no such list, or it knows no such SKU.
    """
    make_list = MakeList.objects.filter(pk=make_list_id).first()
    if make_list is None:
        raise MakeListNotFoundError("There is no make list {make_list}.", make_list=make_list_id)
    row = make_list.forecast_run.skus.select_related("sku__item").filter(sku__item__code=sku_code).first()
    if row is None:
        raise MakeListNotFoundError("Make list {make_list} knows no SKU {sku}.", make_list=make_list_id, sku=sku_code)
    days = [date.fromisoformat(day) for day in make_list.forecast_run.parameters["days"]]
    on_shelf = shelf_spools(as_of=make_list.as_of).get(row.sku_id, 0)
    supply = _supply(row.sku, make_list, days)
    level = make_list.forecast_run.targets.filter(sku=row.sku).values_list("order_up_to", flat=True).first()
    return Projection(
        sku_code=sku_code,
        as_of=make_list.as_of,
        list_last_day=make_list.last_day,
        on_shelf=on_shelf,
        order_up_to=level or 0,
        method=row.method,
        reason=row.reason,
        rows=_rows(row, days, on_shelf, supply),
    )


def _rows(row: SkuForecast, days: list[date], on_shelf: int, supply: list[int]) -> tuple[ProjectionRow, ...]:
    received = np.array(row.already_received, dtype=np.float64)
    there = on_shelf + np.cumsum(supply) - received
    mean, variance = np.array(row.mean), np.array(row.variance)
    demand = NegativeBinomial(mean, variance)
    # The stock is low where demand is high.
    bands: list[Floats] = [there - demand.ppf(1 - q) for q in QUANTILES]
    return tuple(
        ProjectionRow(day, float(there[t] - mean[t]), tuple(float(band[t]) for band in bands), supply[t])
        for t, day in enumerate(days)
    )


def _supply(sku: Sku, make_list: MakeList, days: list[date]) -> list[int]:
    """Return the spools that reach the shelf for each day: pipeline, committed runs, the list's own runs."""
    arrivals: list[tuple[date, int]] = [
        (size.listed_run.shelf_day, size.spools)
        for size in ListedRunSize.objects.filter(listed_run__make_list=make_list, sku=sku).select_related("listed_run")
        if size.listed_run.shelf_day is not None
    ]
    as_of = make_list.as_of
    plans = output_plans(Q(run_output__sku=sku), as_of=as_of).values()
    for plan in plans:
        ended = plan.run_output.run.finished_known_at or plan.run_output.run.cancelled_known_at
        if ended is None or ended > as_of:
            arrivals.append((plan.shelf_day, plan.planned))
    shelf_days = {plan.shelf_at: plan.shelf_day for plan in plans}
    arrivals += [
        (shelf_days.get(p.shelf_at, days[0]), p.quantity) for p in pipeline(as_of=as_of) if p.sku == sku.item.code
    ]
    supply = [0] * len(days)
    for day, spools in arrivals:
        at = sum(d < day for d in days)
        if at < len(days):
            supply[at] += spools
    return supply
