"""Forecast every SKU and set its level, as of an instant. Nothing is stored here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from inventory.models import PlantParameters
from inventory.rules.calendar import PlantCalendar
from inventory.selectors.plant import parameters
from stockplan.planner.core.built_ahead import BuiltAhead, built_ahead
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.order_target import order_target
from stockplan.planner.core.outlook import Outlook, lead_days, outlook_of
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.stock_levels import StockLevels, line_share, stock_levels
from stockplan.planner.selectors.demand_basis import DemandBasis
from stockplan.planner.selectors.facts import SkuDemand, Span, plan_facts
from stockplan.planner.selectors.order_baskets import target_input
from stockplan.planner.selectors.prediction import Prediction, later_demand, predict, recent_means

LONGEST_RISK_DAYS = 30.0
RECENT_SHIP_DAYS = 60


@dataclass(frozen=True)
class Levels:
    """Stock levels by SKU, the outlook that gave their run intervals, and the cycle service aimed at, (S,).

    `ahead` is what is held above the levels for weeks that the lines cannot follow.
    """

    stock: StockLevels
    outlook: Outlook
    target: NDArray[np.float64]
    ahead: BuiltAhead

    @property
    def order_up_to(self) -> NDArray[np.int64]:
        """What lots fill each SKU up to, (S,)."""
        return self.stock.order_up_to.astype(np.int64) + self.ahead.spools


def forecast_and_level(
    basis: DemandBasis, *, as_of: datetime, span: Span, calendar: PlantCalendar
) -> tuple[PlanFacts, Prediction, Levels]:
    """Forecast every SKU and set its level, and return both with the plant's facts. Nothing is stored."""
    facts = _facts_without_forecast(basis, as_of=as_of, span=span, calendar=calendar)
    prediction, levels = _predict_and_level(basis, facts)
    return facts, prediction, levels


def _facts_without_forecast(basis: DemandBasis, *, as_of: datetime, span: Span, calendar: PlantCalendar) -> PlanFacts:
    """Return plant facts with recent demand carried on as it was: the first guess of run intervals."""
    sku_ids = [int(s) for s in basis.attributes.index]
    daily = recent_means(basis, last_days=RECENT_SHIP_DAYS)
    return plan_facts(as_of=as_of, span=span, calendar=calendar, demand=_even_demand(sku_ids, daily, len(span.days)))


def _predict_and_level(basis: DemandBasis, facts: PlanFacts) -> tuple[Prediction, Levels]:
    """Forecast with run intervals from recent demand, then set levels with those that the forecast itself gives."""
    sku_ids = [int(s) for s in basis.attributes.index]
    filament_of = dict(zip(sku_ids, [s.filament for s in facts.skus], strict=True))
    plant = plant_of(facts.in_order())
    lead = {sku_id: lead_days(plant, filament_of[sku_id]) for sku_id in sku_ids}
    guess = outlook_of(plant)
    risk = {s: int(np.ceil(lead[s] + guess.run_days.get(filament_of[s], LONGEST_RISK_DAYS))) for s in sku_ids}
    prediction = predict(basis, as_of=facts.as_of, calendar=facts.calendar, days=facts.days, risk_days=risk)
    return prediction, _levels(basis, facts, prediction, lead=lead, filament_of=filament_of)


def _levels(
    basis: DemandBasis,
    facts: PlanFacts,
    prediction: Prediction,
    *,
    lead: Mapping[int, float],
    filament_of: Mapping[int, str],
) -> Levels:
    row_of = parameters()
    is_made = (basis.is_stocked & basis.is_on_sale).to_numpy(dtype=bool)
    plant = plant_of(_with_means(facts, prediction.mean * is_made[:, None]).in_order())
    outlook = outlook_of(plant)
    lead_days = np.array([lead[s] for s in prediction.sku_ids])
    intervals = [outlook.run_days.get(filament_of[s], LONGEST_RISK_DAYS) for s in prediction.sku_ids]
    review_days = np.maximum(np.array(intervals), float(row_of.review_days))
    target = _cycle_services(basis, row_of, lead_days=lead_days, review_days=review_days)
    stock = stock_levels(
        demand=prediction.demand,
        lead_days=lead_days,
        review_interval_days=float(row_of.review_days),
        run_interval_days=np.array(intervals),
        is_stocked=is_made,
        target=target,
    )
    later = later_demand(basis, prediction, facts=facts, is_made=is_made)
    # A plant has its SKUs in the order of their codes.
    by_code = np.argsort([sku.code for sku in facts.skus], kind="stable")
    ahead = built_ahead(
        plant,
        later.of(by_code),
        covered_days=(stock.lead_days + stock.review_days)[by_code],
        changeover_min=outlook.load.changeover_min,
    )
    return Levels(stock, outlook, target, replace(ahead, spools=ahead.spools[np.argsort(by_code)]))


def _cycle_services(
    basis: DemandBasis,
    row_of: PlantParameters,
    *,
    lead_days: NDArray[np.float64],
    review_days: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the cycle service that each SKU needs for the owner's share of orders.

    From the baskets of the books where an order target is set; else the same for all SKUs.
    """
    asked = row_of.order_target_share
    given = None if asked is None else target_input(basis, lead_days=lead_days, review_days=review_days)
    if asked is None or given is None:
        return np.full(len(lead_days), line_share(float(row_of.target_share), lines_per_order=basis.lines_per_order))
    return order_target(given, float(asked)).cycle_service


def _with_means(facts: PlanFacts, mean: NDArray[np.float64]) -> PlanFacts:
    skus = tuple(replace(sku, mean=tuple(map(float, row))) for sku, row in zip(facts.skus, mean, strict=True))
    return replace(facts, skus=skus)


def _even_demand(sku_ids: list[int], daily: NDArray[np.float64], days: int) -> dict[int, SkuDemand]:
    ahead = np.arange(1, days + 1)
    rows = {sku: tuple(map(float, rate * ahead)) for sku, rate in zip(sku_ids, daily, strict=True)}
    return {sku: SkuDemand(0, (0,) * days, row, row, 0) for sku, row in rows.items()}
