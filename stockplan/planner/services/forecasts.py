"""Forecast demand and set stock levels as of an instant, and keep both with what they were computed from."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np
from django.db import transaction
from numpy.typing import NDArray

from forecasting.messages import Message, message
from inventory.models import PlantParameters
from inventory.rules.calendar import PlantCalendar
from inventory.selectors.plant import parameters
from stockplan.planner.core.built_ahead import BuiltAhead, built_ahead
from stockplan.planner.core.facts import PlanFacts, PlanParameters
from stockplan.planner.core.order_target import order_target
from stockplan.planner.core.outlook import Outlook, lead_days, outlook_of
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.stock_levels import StockLevels, horizon_days, line_share, stock_levels
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import ForecastRun, SkuForecast, StockTarget
from stockplan.planner.selectors.demand_basis import DemandBasis, demand_basis, open_by_day
from stockplan.planner.selectors.facts import SkuDemand, Span, calendar_around, plan_facts
from stockplan.planner.selectors.order_baskets import target_input
from stockplan.planner.selectors.prediction import Prediction, later_demand, predict, recent_means
from stockplan.planner.services.code_version import code_version

LONGEST_RISK_DAYS = 30.0
RECENT_SHIP_DAYS = 60
MOST_LIST_DAYS = 40


class ListDaysError(PlanningError):
    """A list of so many days cannot be computed."""

    code = "list_days"


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


@dataclass(frozen=True)
class Forecast:
    """A stored forecast, and the instant, the days and the demand in the books that it stands on."""

    run: ForecastRun
    as_of: datetime
    basis: DemandBasis
    span: Span
    calendar: PlantCalendar

    def facts(self) -> PlanFacts:
        """Read everything that a list that stands on it depends on."""
        demand = _demand_of(self.run, self.basis, days=self.span.days)
        return plan_facts(
            as_of=self.as_of,
            span=self.span,
            calendar=self.calendar,
            demand=demand,
            later_weeks=self.run.later_weeks,
        )


def compute_forecast(*, as_of: datetime, now: datetime, days: int) -> Forecast:
    """Forecast every SKU for a list of so many ship days, set its level, and store both in one transaction.

    A forecast of the same instant, data, targets, horizon and code that is stored already is returned as it is.

    Raises
    ------
    ListDaysError
        If the number of days is outside 1..40.
    """
    if not 1 <= days <= MOST_LIST_DAYS:
        raise ListDaysError(
            "A list covers 1 to {most} ship days, got {days}.", most=MOST_LIST_DAYS, days=days, pointer="/days"
        )
    calendar = calendar_around(as_of)
    span = span_of(as_of=as_of, calendar=calendar, days=days)
    basis = demand_basis(as_of=as_of, calendar=calendar)
    digest = _data_digest(basis)
    stored = ForecastRun.objects.filter(
        as_of=as_of, horizon_days=len(span.days), data_digest=digest, code_version=code_version()
    ).first()
    if stored is None:
        facts, prediction, levels = forecast_and_level(basis, as_of=as_of, span=span, calendar=calendar)
        stored = _store(basis, facts, prediction, levels, now=now, digest=digest)
    return Forecast(stored, as_of, basis, span, calendar)


def _data_digest(basis: DemandBasis) -> str:
    """Return the SHA-256 of the demand and of what the owner's levels aim at."""
    row_of = parameters()
    aims = repr((row_of.target_share, row_of.order_target_share, row_of.review_days))
    return hashlib.sha256(f"{basis.digest}\n{aims}".encode()).hexdigest()


def _demand_of(forecast_run: ForecastRun, basis: DemandBasis, *, days: tuple[date, ...]) -> dict[int, SkuDemand]:
    """Return the demand of all SKUs as a list takes it, by SKU id. Two queries."""
    levels = {row.sku_id: row for row in forecast_run.targets.defer("reason")}
    rows = {row.sku_id: row for row in forecast_run.skus.all()}
    sku_ids = [int(s) for s in basis.attributes.index]
    late, due = open_by_day(basis, sku_ids=sku_ids, days=days)
    is_forecast = basis.is_stocked & basis.is_on_sale
    none = (0.0,) * len(days)
    return {
        sku: SkuDemand(
            late=int(late[i]),
            due=tuple(int(n) for n in due[i]),
            mean=tuple(rows[sku].mean) if is_forecast[sku] else none,
            variance=tuple(rows[sku].variance) if is_forecast[sku] else none,
            order_up_to=levels[sku].order_up_to,
            ahead=levels[sku].built_ahead,
        )
        for i, sku in enumerate(sku_ids)
    }


def span_of(*, as_of: datetime, calendar: PlantCalendar, days: int) -> Span:
    """Return the days of a list that begins at an instant and covers `days` ship days, and the axis of its demand."""
    look_ahead = PlanParameters().look_ahead_days
    horizon = horizon_days(list_days=days, look_ahead_days=look_ahead, longest_risk_days=LONGEST_RISK_DAYS)
    axis = [calendar.first_ship_day(as_of)]
    while len(axis) < horizon:
        axis.append(calendar.nth_ship_day_after(axis[-1], 1))
    return Span(first_day=calendar.local_day(as_of), last_day=axis[days - 1], days=tuple(axis))


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


@transaction.atomic
def _store(
    basis: DemandBasis, facts: PlanFacts, prediction: Prediction, levels: Levels, *, now: datetime, digest: str
) -> ForecastRun:
    stored = ForecastRun.objects.create(
        as_of=facts.as_of,
        created_at=now,
        horizon_days=len(facts.days),
        parameters={
            "days": [day.isoformat() for day in facts.days],
            "share_to_arrive": basis.share_to_arrive,
            "lines_per_order": basis.lines_per_order,
            "target_cycle_service": float(levels.target.mean()) if levels.target.size else None,
            "run_days": {code: round(days, 3) for code, days in levels.outlook.run_days.items()},
        },
        data_digest=digest,
        code_version=code_version(),
        benchmarks=list(prediction.benchmarks),
        alarms=list(prediction.alarms),
        later_weeks=levels.ahead.sentence(facts.last_day),
    )
    late, due = open_by_day(basis, sku_ids=list(prediction.sku_ids), days=facts.days)
    SkuForecast.objects.bulk_create(_forecasts(stored, prediction, received=late[:, None] + due))
    StockTarget.objects.bulk_create(_targets(stored, prediction, levels))
    return stored


def _forecasts(stored: ForecastRun, prediction: Prediction, *, received: NDArray[np.int64]) -> list[SkuForecast]:
    return [
        SkuForecast(
            forecast_run=stored,
            sku_id=sku,
            method=prediction.method[i],
            reason=prediction.reason[i],
            demand_class=prediction.demand_class[i],
            mean=prediction.mean[i].tolist(),
            variance=prediction.variance[i].tolist(),
            already_received=received[i].tolist(),
            track=prediction.track[i],
        )
        for i, sku in enumerate(prediction.sku_ids)
    ]


def _targets(stored: ForecastRun, prediction: Prediction, levels: Levels) -> list[StockTarget]:
    stock = levels.stock
    return [
        StockTarget(
            forecast_run=stored,
            sku_id=sku,
            order_up_to=int(levels.order_up_to[i]),
            built_ahead=int(levels.ahead.spools[i]),
            safety_stock=float(stock.safety_stock[i]),
            lead_days=float(stock.lead_days[i]),
            review_days=float(stock.review_days[i]),
            cycle_service=float(stock.cycle_service[i]),
            fill_rate=float(stock.fill_rate[i]),
            reason=_target_reason(levels, i),
        )
        for i, sku in enumerate(prediction.sku_ids)
    ]


def _target_reason(levels: Levels, i: int) -> Message:
    stock, ahead = levels.stock, int(levels.ahead.spools[i])
    if not levels.order_up_to[i]:
        return message("Nothing to hold: made to order, not on sale, or without demand.")
    level = message(
        "The level aims at {target:.1%} of cycles without a stock-out; {level:.0f} spools reach {reached:.1%}. A cycle "
        "is {lead:.1f} ship days until a run is on the shelf and {review:.1f} until the next one.",
        target=float(levels.target[i]),
        level=float(stock.order_up_to[i]),
        reached=float(stock.cycle_service[i]),
        lead=float(stock.lead_days[i]),
        review=float(stock.review_days[i]),
    )
    if not ahead:
        return level
    return message(
        "{level} {ahead} more are built ahead of the weeks from {first} to {last}, which the lines cannot follow.",
        level=level,
        ahead=ahead,
        first=levels.ahead.first_day,
        last=levels.ahead.last_day,
    )
