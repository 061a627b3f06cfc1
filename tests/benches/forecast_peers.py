"""Slow peers on a fixed sample of series: ETS of statsmodels, AutoETS and IMAPA of statsforecast.

They give points. Their spread is conformal: quantiles of the errors of cumulated demand that the same model made one
longest horizon earlier, each divided by the root of horizon times variance of its series, over all series of the
sample; multiplied back and added to the point.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable

import numpy as np
from statsforecast.models import IMAPA, AutoETS
from statsmodels.tsa.exponential_smoothing.ets import ETSModel

Array = np.ndarray
SAMPLE = 100


def sample_rows(units: Array) -> Array:
    """Return the rows of the fixed sample: evenly spaced among those without a gap, at most ``SAMPLE``."""
    whole = np.flatnonzero(~np.isnan(units).any(axis=1))
    return whole[np.unique(np.linspace(0, whole.size - 1, min(SAMPLE, whole.size)).astype(int))]


def peer_quantiles(units: Array, *, horizons: Array, probability: Array, season: int) -> dict[str, Array]:
    """Return quantiles (q, n, h) of cumulated demand by name of the peer."""
    longest = int(horizons[-1])
    scale = np.sqrt(horizons * np.maximum(np.nanvar(units, axis=1), 1e-9)[:, None])
    answers = {}
    for name, ahead in PEERS.items():
        before, now = (_points(ahead, part, longest, season)[:, horizons - 1] for part in (units[:, :-longest], units))
        came = np.cumsum(units[:, -longest:], axis=1)[:, horizons - 1]
        error = np.quantile((came - before) / scale, probability, axis=0)
        answers[name] = np.maximum(now + error[:, None, :] * scale, 0.0)
    return answers


def _points(ahead: Callable[[Array, int, int], Array], units: Array, longest: int, season: int) -> Array:
    with warnings.catch_warnings():
        # Zeros and short records make the optimisers complain; what they return is measured all the same.
        warnings.simplefilter("ignore")
        return np.stack([np.cumsum(np.maximum(ahead(row, longest, season), 0.0)) for row in units])


def _ets(row: Array, longest: int, season: int) -> Array:
    seasonal = {"seasonal": "add", "seasonal_periods": season} if season > 1 and 2 * season < row.size else {}
    return ETSModel(row, error="add", trend="add", damped_trend=True, **seasonal).fit(disp=False).forecast(longest)


def _auto_ets(row: Array, longest: int, season: int) -> Array:
    return AutoETS(season_length=season).forecast(y=row, h=longest)["mean"]


def _imapa(row: Array, longest: int, season: int) -> Array:
    return IMAPA().forecast(y=row, h=longest)["mean"]


PEERS = {"statsmodels ETS": _ets, "AutoETS": _auto_ets, "IMAPA": _imapa}
