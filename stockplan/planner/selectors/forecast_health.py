"""How good the newest forecast is, class by class: against the best plain method, and quantile by quantile."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count

from forecasting.methods.candidates import CHOSEN
from inventory.models import Sku
from stockplan.planner.models import ForecastRun
from stockplan.planner.selectors.track_records import WorstSku, worst_skus

ALL = "all"
COVERAGE = "coverage_"


@dataclass(frozen=True)
class ClassHealth:
    """Backtest of one class of demand; losses are pinball losses per spool of demand, lower is better.

    `coverages` are (quantile, share of past outcomes at or below it), of the forecast as chosen.
    """

    demand_class: str
    skus: int
    windows: int
    loss: float
    plain_method: str
    plain_loss: float
    coverages: tuple[tuple[float, float], ...]

    @property
    def gain_share(self) -> float:
        """By which share of the best plain method's loss the forecast loses less; below 0: it loses more."""
        return 1 - self.loss / self.plain_loss

    @property
    def excess_share(self) -> float:
        """By which share of the best plain method's loss the forecast loses more."""
        return -self.gain_share


@dataclass(frozen=True)
class MethodUse:
    """For how many SKUs of a class a method is used."""

    demand_class: str
    method: str
    skus: int


@dataclass(frozen=True)
class AlarmRow:
    """A SKU or a class of demand (`sku_code` empty) that has left its forecast, since when, over how many windows."""

    name: str
    sku_code: str
    kind: str
    since: date
    windows: int


@dataclass(frozen=True)
class ForecastHealth:
    """The newest forecast as a whole. `overall` is None where nothing could be scored."""

    as_of: datetime
    overall: ClassHealth | None
    classes: tuple[ClassHealth, ...]
    uses: tuple[MethodUse, ...]
    alarms: tuple[AlarmRow, ...]
    worst: tuple[WorstSku, ...]


def forecast_health() -> ForecastHealth | None:
    """Return the health of the newest forecast, None before the first. Four queries."""
    newest = ForecastRun.objects.order_by("-as_of", "-id").first()
    if newest is None:
        return None
    counted = newest.skus.values("demand_class", "method").annotate(skus=Count("id"))
    uses = tuple(
        MethodUse(row["demand_class"], row["method"], row["skus"])
        for row in counted.order_by("demand_class", "-skus", "method")
    )
    names = sorted({score["demand_class"] for score in newest.benchmarks} - {ALL})
    classes = [_class_health(name, newest.benchmarks, uses) for name in names]
    return ForecastHealth(
        as_of=newest.as_of,
        overall=_class_health(ALL, newest.benchmarks, uses),
        classes=tuple(sorted(filter(None, classes), key=lambda one: -one.skus)),
        uses=uses,
        alarms=_alarms(newest),
        worst=worst_skus(newest),
    )


def overall_health() -> ClassHealth | None:
    """Return the newest forecast as one class, None where there is none or nothing could be scored. One query."""
    newest = ForecastRun.objects.order_by("-as_of", "-id").first()
    return None if newest is None else _class_health(ALL, newest.benchmarks, ())


def _alarms(newest: ForecastRun) -> tuple[AlarmRow, ...]:
    """Return classes first, then SKUs, the longest standing first."""
    named = {row["name"] for row in newest.alarms if row["scope"] == "sku"}
    skus = Sku.objects.filter(pk__in=named).select_related("item").in_bulk()
    rows = [
        AlarmRow(
            name=skus[row["name"]].item.name if row["scope"] == "sku" else row["name"],
            sku_code=skus[row["name"]].item.code if row["scope"] == "sku" else "",
            kind=row["kind"],
            since=date.fromisoformat(row["since"]),
            windows=row["windows"],
        )
        for row in newest.alarms
    ]
    return tuple(sorted(rows, key=lambda row: (bool(row.sku_code), row.since, row.name)))


def _class_health(name: str, scores: Sequence[Mapping[str, Any]], uses: Sequence[MethodUse]) -> ClassHealth | None:
    """Return one class, None where the forecast or every plain method has no score."""
    scored = [score for score in scores if score["demand_class"] == name and score["loss"]]
    chosen = next((score for score in scored if score["method"] == CHOSEN), None)
    plain = min((score for score in scored if score["is_benchmark"]), key=lambda score: score["loss"], default=None)
    if chosen is None or plain is None:
        return None
    return ClassHealth(
        demand_class=name,
        skus=sum(use.skus for use in uses if name in (ALL, use.demand_class)),
        windows=chosen["windows"],
        loss=chosen["loss"],
        plain_method=plain["method"],
        plain_loss=plain["loss"],
        coverages=coverages_of(chosen),
    )


def coverages_of(score: Mapping[str, Any]) -> tuple[tuple[float, float], ...]:
    """Return (quantile, share of outcomes at or below it) of one row of scores, in the order of quantiles."""
    pairs = [(float(name.removeprefix(COVERAGE)), share) for name, share in score.items() if name.startswith(COVERAGE)]
    return tuple(sorted(pairs))
