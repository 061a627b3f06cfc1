"""One SKU as its planner sees it: the forecast in words, its target, and what was due of it week by week."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import F, Sum
from django.db.models.functions import TruncWeek

from forecasting.messages import Message
from inventory.models import OrderLineChange, Sku
from inventory.selectors.demand import REGULAR_KINDS
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import SkuForecast, StockTarget
from stockplan.planner.selectors.track_records import TrackRecord, track_record

COVERAGE = "coverage_"


class SkuNotFoundError(PlanningError):
    """There is no SKU of that code."""

    code = "sku_not_found"


@dataclass(frozen=True)
class ForecastDay:
    """Demand up to and with a ship day: what is expected still to arrive, and what is in the books already."""

    day: date
    mean_spools: float
    deviation_spools: float
    received_spools: float


@dataclass(frozen=True)
class ScoreRow:
    """How one method did on past demand of the SKU's class; `loss` is None where nothing could be scored.

    `coverages` are (quantile, share of outcomes at or below it): equal if the quantile is honest.
    """

    method: str
    is_benchmark: bool
    is_used: bool
    loss: float | None
    windows: int
    coverages: tuple[tuple[float, float | None], ...]


@dataclass(frozen=True)
class ForecastRecord:
    """The stored forecast of one SKU: the reason for its method, the scores of its class and its own record."""

    method: str
    reason: Message
    demand_class: str
    as_of: datetime
    days: tuple[ForecastDay, ...]
    scores: tuple[ScoreRow, ...]
    track: TrackRecord | None


@dataclass(frozen=True)
class WeekDemand:
    """Spools that were due in the week that begins on `monday`."""

    monday: date
    spools: int


@dataclass(frozen=True)
class SkuRecord:
    """A SKU with its newest forecast and target; both are None where no forecast was computed yet."""

    code: str
    name: str
    gtin: str | None
    filament_code: str
    material_name: str
    colour_name: str
    colour_hex: str
    diameter_mm: float
    net_g: int
    is_stocked: bool
    shelf_place: str
    forecast: ForecastRecord | None
    target: StockTarget | None
    history: tuple[WeekDemand, ...]


def sku_record(code: str, *, today: date, weeks: int) -> SkuRecord:
    """Return one SKU with its newest forecast and its last `weeks` weeks. Four queries.

    Raises
    ------
    SkuNotFoundError
        If there is no SKU of that code.
    """
    skus = Sku.objects.select_related(
        "item", "spool_size", "filament__material", "filament__colour", "filament__diameter"
    )
    sku = skus.filter(item__code=code).first()
    if sku is None:
        raise SkuNotFoundError("There is no SKU {code}.", code=code)
    filament = sku.filament
    return SkuRecord(
        code=sku.item.code,
        name=sku.item.name,
        gtin=sku.gtin,
        filament_code=filament.code,
        material_name=filament.material.name,
        colour_name=filament.colour.name,
        colour_hex=filament.colour.hex,
        diameter_mm=float(filament.diameter.nominal_mm),
        net_g=sku.spool_size.net_g,
        is_stocked=sku.is_stocked,
        shelf_place=sku.shelf_place,
        forecast=_forecast(sku),
        target=StockTarget.objects.filter(sku=sku).order_by("-forecast_run__as_of", "-forecast_run_id").first(),
        history=_history(sku, today=today, weeks=weeks),
    )


def _forecast(sku: Sku) -> ForecastRecord | None:
    row = (
        SkuForecast.objects.filter(sku=sku)
        .select_related("forecast_run")
        .order_by("-forecast_run__as_of", "-forecast_run_id")
        .first()
    )
    if row is None:
        return None
    return ForecastRecord(
        method=row.method,
        reason=row.reason,
        demand_class=row.demand_class,
        as_of=row.forecast_run.as_of,
        days=_forecast_days(row),
        scores=tuple(
            _score(score) for score in row.forecast_run.benchmarks if score["demand_class"] == row.demand_class
        ),
        track=track_record(row.track),
    )


def _score(score: Mapping[str, Any]) -> ScoreRow:
    coverages = {name.removeprefix(COVERAGE): share for name, share in score.items() if name.startswith(COVERAGE)}
    return ScoreRow(
        method=score["method"],
        is_benchmark=score["is_benchmark"],
        is_used=not score["is_benchmark"],
        loss=score["loss"],
        windows=score["windows"],
        coverages=tuple((float(quantile), share) for quantile, share in coverages.items()),
    )


def _forecast_days(row: SkuForecast) -> tuple[ForecastDay, ...]:
    days = row.forecast_run.parameters["days"]
    return tuple(
        ForecastDay(
            day=date.fromisoformat(day), mean_spools=mean, deviation_spools=variance**0.5, received_spools=received
        )
        for day, mean, variance, received in zip(days, row.mean, row.variance, row.already_received, strict=True)
    )


def _history(sku: Sku, *, today: date, weeks: int) -> tuple[WeekDemand, ...]:
    """Demand as received, project orders apart: what the shop itself cancelled was wanted all the same."""
    this_monday = today - timedelta(days=today.weekday())
    first = this_monday - timedelta(weeks=weeks - 1)
    sums = (
        OrderLineChange.objects.filter(order_line__sku=sku, order_line__order__due_day__range=(first, today))
        .filter(order_line__order__kind__in=REGULAR_KINDS)
        .exclude(reason=OrderLineChange.Reason.CANCELLED_BY_SHOP)
        .annotate(monday=TruncWeek(F("order_line__order__due_day")))
        .values("monday")
        .annotate(spools=Sum("delta"))
        .order_by("monday")
    )
    by_monday = {row["monday"]: row["spools"] for row in sums}
    mondays = [first + timedelta(weeks=week) for week in range(weeks)]
    return tuple(WeekDemand(monday=monday, spools=by_monday.get(monday, 0)) for monday in mondays)
