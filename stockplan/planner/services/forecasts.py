"""Forecast demand and set stock levels as of an instant, and keep both with what they were computed from."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
from django.db import transaction
from numpy.typing import NDArray

from forecasting.messages import Message, message
from inventory.rules.calendar import PlantCalendar
from inventory.selectors.plant import parameters
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.parameters import PlanParameters
from stockplan.planner.core.stock_levels import horizon_days
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import ForecastRun, SkuForecast, StockTarget
from stockplan.planner.selectors.demand_basis import DemandBasis, demand_basis, open_by_day
from stockplan.planner.selectors.facts import SkuDemand, Span, calendar_around, plan_facts
from stockplan.planner.selectors.list_changes import listed_before
from stockplan.planner.selectors.prediction import Prediction
from stockplan.planner.services.code_version import code_version
from stockplan.planner.services.levels import LONGEST_RISK_DAYS, Levels, forecast_and_level

MOST_LIST_DAYS = 40


class ListDaysError(PlanningError):
    """A list of so many days cannot be computed."""

    code = "list_days"


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
            listed=listed_before(as_of=self.as_of),
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
