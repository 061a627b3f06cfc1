"""What more or less stock buys: replays of one policy with its levels times different factors."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from stockplan.planner.core.replay.morning import MorningForecast
from stockplan.planner.core.replay.policies import MakeListPolicy, PlainIndexPolicy
from stockplan.planner.core.replay.records import ReplayTotals
from stockplan.planner.core.replay.reorder_point import ReorderPointPolicy
from stockplan.planner.core.replay.simulation import Stretch, replay

ScalablePolicy = MakeListPolicy | PlainIndexPolicy | ReorderPointPolicy
CURVE_FACTORS = (0.3, 0.45, 0.6, 0.75, 0.9, 1.0, 1.2, 1.5, 2.0)


@dataclass(frozen=True)
class CurvePoint:
    """One point of an exchange curve."""

    stock_factor: float
    totals: ReplayTotals


def exchange_curve(
    stretch: Stretch,
    policy: ScalablePolicy,
    *,
    forecast_of: Callable[[datetime], MorningForecast],
    factors: Sequence[float] = CURVE_FACTORS,
    tick: Callable[[date], None] | None = None,
) -> tuple[CurvePoint, ...]:
    """Return what the policy comes to with its levels times each factor; the opening stock is scaled alike."""
    return tuple(
        CurvePoint(
            factor,
            ReplayTotals.of(
                replay(
                    scaled_opening(stretch, factor),
                    replace(policy, stock_factor=factor),
                    forecast_of=forecast_of,
                    tick=tick,
                )
            ),
        )
        for factor in factors
    )


def scaled_opening(stretch: Stretch, factor: float) -> Stretch:
    """Return the stretch with its opening stock times a factor: else the first weeks would show the old levels."""
    return replace(stretch, opening={sku: round(n * factor) for sku, n in stretch.opening.items()})


def best_of(
    stretch: Stretch,
    policies: Sequence[ReorderPointPolicy],
    *,
    forecast_of: Callable[[datetime], MorningForecast],
    tick: Callable[[date], None] | None = None,
) -> ReorderPointPolicy:
    """Return the setting with the highest share of orders that ship complete on their day; the first where equal."""

    def kept(policy: ReorderPointPolicy) -> int:
        return ReplayTotals.of(replay(stretch, policy, forecast_of=forecast_of, tick=tick)).orders.kept

    return max(policies, key=kept)
