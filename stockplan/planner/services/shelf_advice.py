"""Which SKUs deserve shelf space: advice with numbers from demand, levels and the plant's costs."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from statistics import median

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from inventory.models import Sku
from inventory.selectors.plant import parameters
from stockplan.planner.core.plant import Plant, plant_of
from stockplan.planner.core.shelf_worth import ShelfInput, SkuAdvice, shelf_worth
from stockplan.planner.core.stock_levels import stock_levels
from stockplan.planner.models import ShelfAdvice
from stockplan.planner.selectors.demand_basis import DemandBasis, demand_basis
from stockplan.planner.selectors.facts import calendar_around
from stockplan.planner.services.forecasts import span_of
from stockplan.planner.services.levels import LONGEST_RISK_DAYS, forecast_and_level
from stockplan.planner.services.make_lists import DEFAULT_DAYS

SEEN_SHIP_DAYS = 250
WEEKS_PER_YEAR = 52


def advise_shelf(*, as_of: datetime, now: datetime) -> list[SkuAdvice]:
    """Return the advice for every SKU on sale, those that cost most first, and keep it for the page."""
    found = _advise(as_of)
    ShelfAdvice.objects.create(computed_at=now, rows=[asdict(row) for row in found])
    return found


def _advise(as_of: datetime) -> list[SkuAdvice]:
    calendar = calendar_around(as_of)
    basis = demand_basis(as_of=as_of, calendar=calendar)
    span = span_of(as_of=as_of, calendar=calendar, days=DEFAULT_DAYS)
    facts, prediction, levels = forecast_and_level(basis, as_of=as_of, span=span, calendar=calendar)
    row_of, plant = parameters(), plant_of(facts.in_order())
    filament_of = dict(zip(prediction.sku_ids, [sku.filament for sku in facts.skus], strict=True))
    intervals = np.array([levels.outlook.run_days.get(filament_of[s], LONGEST_RISK_DAYS) for s in prediction.sku_ids])
    value = dict(Sku.objects.values_list("pk", "value"))
    # The level that a SKU made to order would have on the shelf.
    stock = stock_levels(
        demand=prediction.demand,
        lead_days=levels.stock.lead_days,
        review_interval_days=float(row_of.review_days),
        run_interval_days=intervals,
        is_stocked=np.ones(len(intervals), dtype=bool),
        target=levels.target,
    )
    weekly = sum(rule.cut_off is not None for rule in calendar.day_rules.values())
    given = ShelfInput(
        order_days_per_year=_order_day_share(basis) * weekly * WEEKS_PER_YEAR,
        daily_mean=prediction.mean[:, -1] / len(span.days),
        daily_variance=prediction.variance[:, -1] / len(span.days),
        order_up_to=stock.order_up_to,
        lead_days=stock.lead_days,
        review_days=stock.review_days,
        value=np.array([float(value[s]) for s in prediction.sku_ids]),
        run_interval_days=intervals,
        changeover_h=np.array([_own_run_h(plant, filament_of[s]) for s in prediction.sku_ids]),
    )
    worth = shelf_worth(
        given, holding_rate_per_year=float(row_of.holding_rate_per_year), line_hour_cost=float(row_of.line_hour_cost)
    )
    advice = [
        SkuAdvice(
            sku=facts.skus[i].code,
            is_stocked=bool(basis.is_stocked[sku]),
            mean_stock=float(worth.mean_stock[i]),
            holding_cost=float(worth.holding_cost[i]),
            runs_saved=float(worth.runs_saved[i]),
            runs_saved_cost=float(worth.runs_saved_cost[i]),
            earns=float(worth.earns[i]),
            order_days_per_year=float(given.order_days_per_year[i]),
            break_even_order_days=_finite(worth.break_even_order_days[i]),
        )
        for i, sku in enumerate(prediction.sku_ids)
        if basis.is_on_sale[sku]
    ]
    return sorted(advice, key=lambda row: (row.earns, row.sku))


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _order_day_share(basis: DemandBasis) -> NDArray[np.float64]:
    """Return the share of recent ship days on which each SKU was ordered, of those on which it was on sale."""
    recent: pd.DataFrame = basis.history.tail(SEEN_SHIP_DAYS).reindex(columns=basis.attributes.index)
    known = recent.notna().sum()
    share = (recent > 0).sum() / known.where(known > 0, 1)
    return share.to_numpy(dtype=np.float64)


def _own_run_h(plant: Plant, filament: str) -> float:
    """Return the usual hours of changeover and start-up of a run that comes out of turn; 0 if no line makes it."""
    found = []
    for line in plant.lines_for(filament):
        changes = [
            plant.changeover_min(line, other, filament) for other in plant.lines[line].rates if other != filament
        ]
        found.append(median(changes or [0]) + plant.lines[line].start_up_min)
    return float(min(found, default=0.0)) / 60
