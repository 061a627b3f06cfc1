"""Replay past days as asked for, and keep what it came to: the same for the command and for the page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from forecasting.messages import Message, message
from stockplan.planner.core.replay.exchange import CURVE_FACTORS, ScalablePolicy, best_of, exchange_curve
from stockplan.planner.core.replay.policies import MakeListPolicy, PlainIndexPolicy
from stockplan.planner.core.replay.records import ReplayRow, ReplayTotals, by_week
from stockplan.planner.core.replay.reorder_point import SIX_SETTINGS
from stockplan.planner.core.replay.simulation import replay
from stockplan.planner.models import StoredReplay
from stockplan.planner.services.replay import REFRESH_DAYS, PreparedReplay, prepare_replay

# Called with the ship days that are replayed and with all that are to be.
Progress = Callable[[int, int], None]
REORDER_POINT = "reorder-point"
POLICIES = ("make-list", "plain-index", REORDER_POINT)


@dataclass(frozen=True)
class ReplayQuestion:
    """Which days to replay, under which policy.

    Parameters
    ----------
    policy
        One of `POLICIES`; of the reorder points the best of six settings.
    is_curve
        Replay the days once for each of `CURVE_FACTORS`; else once.
    stock_factor
        All stock levels times this; not of a curve.
    """

    first_day: date
    last_day: date
    policy: str = POLICIES[0]
    is_curve: bool = False
    stock_factor: float = 1.0

    @property
    def replays(self) -> int:
        """How often the days are replayed."""
        return (len(CURVE_FACTORS) if self.is_curve else 1) + (len(SIX_SETTINGS) if self.policy == REORDER_POINT else 0)


@dataclass(frozen=True)
class Replayed:
    """What a replay came to: sentences that say under which conditions, and its rows."""

    conditions: tuple[Message, ...]
    rows: tuple[ReplayRow, ...]


def replay_as_asked(question: ReplayQuestion, *, now: datetime, progress: Progress) -> Replayed:
    """Read what the books knew on each morning, and replay the days.

    Raises
    ------
    StretchError
        If the days cannot be replayed; before any of them was.
    """
    prepared = prepare_replay(first_day=question.first_day, last_day=question.last_day, now=now)
    done, in_all = 0, question.replays * prepared.ship_days
    progress(0, in_all)

    def tick(_day: date) -> None:
        nonlocal done
        done += 1
        progress(done, in_all)

    policy = _policy(question, prepared, tick=tick)
    return Replayed(conditions=_conditions(policy, prepared), rows=_rows(question, prepared, policy, tick=tick))


def store_replay(
    *, policy: str, is_curve: bool, conditions: Sequence[Message], rows: Sequence[ReplayRow], now: datetime
) -> StoredReplay:
    """Write the rows of one replay, or of an exchange curve. One query."""
    return StoredReplay.objects.create(
        policy=policy,
        is_curve=is_curve,
        first_day=min(row.totals.first_day for row in rows),
        last_day=max(row.totals.last_day for row in rows),
        computed_at=now,
        conditions=list(conditions),
        rows=[row.as_json() for row in rows],
    )


def _policy(question: ReplayQuestion, prepared: PreparedReplay, *, tick: Callable[[date], None]) -> ScalablePolicy:
    """Return the policy asked for; of the reorder-point settings the one that keeps most orders."""
    factor = question.stock_factor
    if question.policy == REORDER_POINT:
        settings = [replace(setting, stock_factor=factor) for setting in SIX_SETTINGS]
        return best_of(prepared.stretch, settings, forecast_of=prepared.forecasts, tick=tick)
    return MakeListPolicy(factor) if question.policy == POLICIES[0] else PlainIndexPolicy(factor)


def _rows(
    question: ReplayQuestion, prepared: PreparedReplay, policy: ScalablePolicy, *, tick: Callable[[date], None]
) -> tuple[ReplayRow, ...]:
    if question.is_curve:
        curve = exchange_curve(prepared.stretch, policy, forecast_of=prepared.forecasts, tick=tick)
        return tuple(ReplayRow(f"x {point.stock_factor:g}", point.totals) for point in curve)
    records = replay(prepared.stretch, policy, forecast_of=prepared.forecasts, tick=tick)
    weeks = [ReplayRow(f"{week.first_day:%G-W%V}", week) for week in by_week(records)]
    return (*weeks, ReplayRow("total", ReplayTotals.of(records)))


def _conditions(policy: ScalablePolicy, prepared: PreparedReplay) -> tuple[Message, ...]:
    return (
        message("Policy: {policy}.", policy=policy.words),
        prepared.opening,
        message(
            "Demand is forecast anew every {refresh} ship days; each list covers {days}.",
            refresh=REFRESH_DAYS,
            days=prepared.stretch.list_days,
        ),
        message(
            "Materials are taken to be there, runs to take as long as planned; orders with a SKU made to order, and "
            "the plant's own use, are made and shipped but in no share."
        ),
    )
