"""The methods that compete: each turns what is known at an origin into mean and variance of cumulated demand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from forecasting.levels import SmoothedLevels
from forecasting.messages import Message, message
from forecasting.methods.ets import SMOOTHING, cumulated_forecast
from forecasting.outlook import Outlook
from forecasting.past import DISCOUNTS, PLAIN_CONSTANT, Past
from forecasting.spread import cumulated_variance

FloatArray = NDArray[np.float64]

# Rows of the tables that are no method of the mixture: the last periods, the mixture itself, and no forecast at all.
RECENT_PAST, CHOSEN, NONE = "empirical", "chosen", "none"
# A share of periods with demand above this is not told from all of them.
MOST_DEMANDS = 0.99
# A season is repeated where at least this share of periods has demand; a rule of ours.
REGULAR_SHARE = 0.5


@dataclass(frozen=True)
class Candidate:
    """A method in the competition.

    Attributes
    ----------
    name : str
        Its name in the tables.
    words : Message
        What it does, for a planner.
    is_benchmark : bool
        A plain method that the mixture of all others has to beat.
    outlook : callable
        Past -> Outlook.
    needs_regular : bool
        It has a say only where most periods have demand; as a benchmark it is scored everywhere.
    """

    name: str
    words: Message
    is_benchmark: bool
    outlook: Callable[[Past], Outlook]
    needs_regular: bool = False


def candidates_for(*, has_season: bool, has_orders: bool = False) -> tuple[Candidate, ...]:
    """Return all methods, benchmarks first; the plain ones know no factors."""
    smoothed = tuple(_smoothed(g) for g in range(SMOOTHING.alpha.size))
    borrowed = tuple(_borrowed(discount) for discount in DISCOUNTS)
    repeated = Candidate(
        "season grown", message("the last season again, grown as it had grown"), False, _season_grown, True
    )
    followed = (*smoothed, repeated) if has_season else smoothed
    lumpy = tuple(_lumpy(discount) for discount in DISCOUNTS)
    ordered = tuple(_ordered(discount) for discount in DISCOUNTS) if has_orders else ()
    return (*BENCHMARKS, *followed, *(_narrow(method) for method in followed), *borrowed, *lumpy, *ordered)


def words_of(name: str) -> Message:
    """Return what a method does by its name in the tables; a name of no method, as of older code, stands for itself."""
    return _words_by_name().get(name) or message("{name}", name=name)


@cache
def _words_by_name() -> dict[str, Message]:
    known = {method.name: method.words for method in candidates_for(has_season=True, has_orders=True)}
    return known | {
        RECENT_PAST: message("the recent past as it was"),
        CHOSEN: message("mixture of methods"),
        NONE: message("no method"),
    }


def with_a_say(said: list[Outlook], candidates: tuple[Candidate, ...], past: Past) -> list[Outlook]:
    """Return what the methods said, without those that do not apply where hardly any period has demand.

    The last season is mostly nothing there, and a method that repeats it would be sure of nothing.
    """
    is_rare = (past.n_events < REGULAR_SHARE * past.sold.n_known)[:, None]
    return [
        replace(one, mean=np.where(is_rare, np.nan, one.mean)) if candidate.needs_regular else one
        for one, candidate in zip(said, candidates, strict=True)
    ]


def _narrow(method: Candidate) -> Candidate:
    """Return the method with half of its spread beyond Poisson: a mixture of methods that differ is wide already."""

    def outlook(past: Past) -> Outlook:
        wide = method.outlook(past)
        return replace(wide, variance=(wide.mean + wide.variance) / 2.0, level_variation=wide.level_variation / 2.0)

    return replace(
        method,
        name=f"{method.name} narrow",
        words=message("{method}, half the spread", method=method.words),
        outlook=outlook,
    )


def _outlook(mean: FloatArray, *, spread: FloatArray, periods: FloatArray, growth: float) -> Outlook:
    """Return the outlook of a level whose own variance is ``growth`` times that of one period."""
    level = np.divide(mean[:, -1], periods[:, -1], out=np.zeros(mean.shape[0]), where=periods[:, -1] > 0)
    variance = cumulated_variance(one_period=spread[:, None], periods=periods, level_growth=growth)
    variation = np.divide(growth * spread, level**2, out=np.zeros(level.size), where=level > 0)
    return Outlook(mean, np.maximum(variance, mean), np.full_like(mean, np.inf), variation)


def _steady(constant: float) -> float:
    """Return a / (2 - a), the variance of a smoothed level as a share of one period's variance."""
    return constant / (2.0 - constant)


def _smoothed(g: int) -> Candidate:
    alpha, beta, phi = float(SMOOTHING.alpha[g]), float(SMOOTHING.beta[g]), float(SMOOTHING.phi[g])

    def outlook(past: Past) -> Outlook:
        level, states = past.smoothed.level[g], past.smoothed
        ahead = past.factors[:, past.origin :]
        mean = cumulated_forecast(level, states.trend[g], phi=phi, factors_ahead=ahead)
        spread = past.spread_at(np.maximum(level, 0.0), squared_error=states.squared_error[g])
        # A record of hardly any period has no level.
        mean = np.where(np.isnan(states.squared_error[g])[:, None], np.nan, mean)
        return _outlook(mean, spread=spread, periods=past.periods_ahead, growth=_steady(alpha))

    name, words = f"smoothed {alpha:g}", message("its demand smoothed with {alpha:g}", alpha=alpha)
    if beta:
        trend = message("its demand smoothed with {alpha:g} and a damped trend", alpha=alpha)
        return Candidate(f"{name} trend", trend, False, outlook)
    return Candidate(name, words, False, outlook)


def _borrowed(discount: float) -> Candidate:
    def outlook(past: Past) -> Outlook:
        rate = past.borrowed_rate(discount)
        mean = rate.mean[:, None] * past.periods_ahead
        own = past.spread_at(rate.mean)[:, None] * past.periods_ahead
        variance = own + rate.variation[:, None] * mean**2
        return Outlook(mean, np.maximum(variance, mean), np.full_like(mean, np.inf), rate.variation)

    words = message("the rate of its kin moved by {sales}", sales=_own(discount))
    return Candidate(f"kin, {_memory(discount)}", words, False, outlook)


def _lumpy(discount: float) -> Candidate:
    """Return the borrowed rate with demands that arrive at random, each of its size: idle as often as none does."""
    plain = _borrowed(discount)

    def outlook(past: Past) -> Outlook:
        # Of periods with a demand only that is known, not how many: the chance of none is exp(-a).
        a_period = -np.log1p(-np.minimum(past.borrowed_rate(discount).demands, MOST_DEMANDS))
        return replace(plain.outlook(past), arrivals=a_period[:, None] * past.periods_ahead)

    words = message("{method}, often none and then many", method=plain.words)
    return Candidate(f"{plain.name}, lumpy", words, False, outlook)


def _ordered(discount: float) -> Candidate:
    """Return orders that arrive at random, at the rate and with the sizes that the counted orders show."""

    def outlook(past: Past) -> Outlook:
        rate = past.compound_rate(discount)
        mean, orders = (part[:, None] * past.periods_ahead for part in (rate.mean, rate.orders))
        variance = rate.variance[:, None] * past.periods_ahead + rate.variation[:, None] * mean**2
        return Outlook(mean, np.maximum(variance, mean), orders, rate.variation)

    words = message("orders at the rate of its kin moved by {sales}, each of its size", sales=_own(discount))
    return Candidate(f"orders, {_memory(discount)}", words, False, outlook)


def _memory(discount: float) -> str:
    return "all sales" if not discount else f"about {1 / discount:g} periods"


def _own(discount: float) -> Message:
    if not discount:
        return message("all its own sales")
    return message("its last {periods:g} periods or so", periods=1 / discount)


def _season_grown(past: Past) -> Outlook:
    """Repeat the last season times half (in logarithms) of the growth over the season before."""
    season = past.setting.phases.season_length
    if past.origin < 2 * season:
        return _not_applicable(past)
    last, before = (_total(past.units[:, past.origin - k * season : past.origin - (k - 1) * season]) for k in (1, 2))
    growth = np.sqrt(np.clip(np.divide(last, before, out=np.ones(last.size), where=before > 0), 0.5, 2.0))
    mean = _last_season(past) * growth[:, None]
    # Around the level that follows best: the variance around the mean has trend and season in it.
    error = past.smoothed.squared_error.min(axis=0)
    spread = past.spread_at(np.nan_to_num(mean[:, -1]) / past.periods_ahead[:, -1], squared_error=error)
    return _outlook(mean, spread=spread, periods=past.periods_ahead, growth=0.2)


def _total(units: FloatArray) -> FloatArray:
    return np.asarray(units.sum(axis=1))


def _last_season(past: Past) -> FloatArray:
    """Return the last season, cumulated, as often as needed; NaN where a period of it is unknown."""
    length = min(past.setting.phases.season_length, past.origin)
    season = past.units[:, past.origin - length :]
    return np.asarray(np.cumsum(season[:, np.arange(past.setting.longest) % length], axis=1))


def _not_applicable(past: Past) -> Outlook:
    none = np.full((past.setting.units.shape[0], past.setting.longest), np.nan)
    return Outlook(none, none, np.full_like(none, np.inf), np.zeros(none.shape[0]))


def _seasonal_naive(past: Past) -> Outlook:
    return _plain(past, _last_season(past), growth=0.2)


def _plain(past: Past, mean: FloatArray, *, growth: float) -> Outlook:
    steps = np.broadcast_to(np.arange(1.0, past.setting.longest + 1), mean.shape)
    spread = past.spread_at(np.nan_to_num(mean[:, -1]) / past.setting.longest)
    return _outlook(mean, spread=spread, periods=steps, growth=growth)


def _plain_level(name: str, words: Message, levels: Callable[[Past], SmoothedLevels]) -> Candidate:
    def outlook(past: Past) -> Outlook:
        known = np.where(past.sold.n_known > 0, levels(past).now()[:, 0], np.nan)
        mean = known[:, None] * np.arange(1.0, past.setting.longest + 1)
        return _plain(past, mean, growth=_steady(PLAIN_CONSTANT))

    return Candidate(f"{name} {PLAIN_CONSTANT:g}", words, True, outlook)


BENCHMARKS = (
    Candidate("seasonal naive", message("the last season again"), True, _seasonal_naive, True),
    _plain_level("ses", message("a smoothed level"), lambda past: past.levels.ses),
    _plain_level("sba", message("smoothed size over smoothed interval"), lambda past: past.levels.sba),
    _plain_level("tsb", message("smoothed size times smoothed probability"), lambda past: past.levels.tsb),
)
