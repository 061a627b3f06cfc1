"""Plain benchmarks as anybody would write them, apart from the project's own: quantiles of cumulated demand.

Each takes the record (n, T) and returns (q, n, h). SES, SBA and TSB come from statsforecast's definitions with the
constant 0.1 (probability of TSB 0.05), spread over periods by a negative binomial with the variance of the record.
"""

from __future__ import annotations

import numpy as np
from scipy import stats

Array = np.ndarray


def plain_quantiles(units: Array, *, horizons: Array, probability: Array, season: int) -> dict[str, Array]:
    """Return the quantiles of every benchmark by name."""
    mean, variance = moments(units)
    level = {"SES + NB": _ses(units), "SBA + NB": _sba(units), "TSB + NB": _tsb(units)}
    answers = {name: _negative_binomial(rate, variance, horizons, probability) for name, rate in level.items()}
    return answers | {
        "Poisson": stats.poisson.ppf(probability[:, None, None], mean[:, None] * horizons),
        "empirical, all": _empirical(units, horizons, probability),
        "empirical, recent": _empirical(units[:, -_recent(season) :], horizons, probability),
        "seasonal naive": _seasonal_naive(units, horizons, probability, season),
    }


def moments(units: Array) -> tuple[Array, Array]:
    """Return mean and variance over known periods; zero for a series without any."""
    known = ~np.isnan(units)
    count = np.maximum(known.sum(axis=1), 1)
    mean = np.where(known, units, 0.0).sum(axis=1) / count
    return mean, (np.where(known, units - mean[:, None], 0.0) ** 2).sum(axis=1) / count


def _recent(season: int) -> int:
    return 60 if season == 7 else 24


def _ses(units: Array, constant: float = 0.1) -> Array:
    level = np.full(units.shape[0], np.nan)
    for y in units.T:
        level = np.where(np.isnan(y), level, np.where(np.isnan(level), y, level + constant * (y - level)))
    return np.nan_to_num(level)


def _sba(units: Array, constant: float = 0.1) -> Array:
    size, interval, gap = (np.full(units.shape[0], v) for v in (np.nan, np.nan, 1.0))
    for y in units.T:
        sold, first = y > 0, np.isnan(size)
        size = np.where(sold, np.where(first, y, size + constant * (y - size)), size)
        interval = np.where(sold, np.where(first, gap, interval + constant * (gap - interval)), interval)
        gap = np.where(sold, 1.0, gap + ~np.isnan(y))
    return np.nan_to_num((1.0 - constant / 2.0) * size / interval)


def _tsb(units: Array, constant: float = 0.1, of_probability: float = 0.05) -> Array:
    size, probability = np.full((2, units.shape[0]), np.nan)
    for y in units.T:
        sold, known = y > 0, ~np.isnan(y)
        size = np.where(sold, np.where(np.isnan(size), y, size + constant * (y - size)), size)
        moved = np.where(np.isnan(probability), sold, probability + of_probability * (sold - probability))
        probability = np.where(known, moved, probability)
    return np.nan_to_num(size * probability)


def _negative_binomial(level: Array, variance: Array, horizons: Array, probability: Array) -> Array:
    mean = level[:, None] * horizons
    spread = np.maximum(variance[:, None] * horizons, mean * (1.0 + 1e-6))
    share = np.divide(mean, spread, out=np.ones_like(mean), where=spread > 0)
    size = np.divide(mean * share, 1.0 - share, out=np.ones_like(mean), where=share < 1)
    found = stats.nbinom.ppf(probability[:, None, None], np.maximum(size, 1e-9), share)
    return np.where(mean > 0, found, 0.0)


def _empirical(units: Array, horizons: Array, probability: Array) -> Array:
    return np.stack([_quantiles(_sums(units, int(h)), probability) for h in horizons], axis=-1)


def _sums(units: Array, horizon: int) -> Array:
    return np.lib.stride_tricks.sliding_window_view(units, horizon, axis=1).sum(axis=2)


def _quantiles(outcomes: Array, probability: Array) -> Array:
    """Return the least outcome that reaches each probability, (q, n); zero for a series without a window."""
    is_empty = np.isnan(outcomes).all(axis=1)
    filled = np.where(is_empty[:, None], 0.0, outcomes)
    return np.nanquantile(filled, probability, axis=1, method="inverted_cdf")


def _seasonal_naive(units: Array, horizons: Array, probability: Array, season: int) -> Array:
    """Repeat the last season, with the quantiles of the errors that this made within the record."""
    longest, periods = int(horizons[-1]), units.shape[1]
    ahead = np.arange(longest) % season
    point = np.cumsum(np.nan_to_num(units[:, -season:][:, ahead]), axis=1)
    answers = []
    for h in horizons:
        start = np.arange(season, periods - h + 1)
        naive = sum(units[:, start - season + ahead[j]] for j in range(int(h)))
        error = _sums(units, int(h))[:, season : start[-1] + 1] - naive
        answers.append(np.maximum(point[:, h - 1] + _quantiles(error, probability), 0.0))
    return np.stack(answers, axis=-1)
