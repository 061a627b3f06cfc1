"""SKUs and classes whose demand has lately left what was forecast: named, with since when.

The transform of an outcome y is a number drawn evenly between P(D < y) and P(D <= y); it is uniform on (0, 1) if the
forecast was right. Of each SKU the windows that do not overlap are looked at, the youngest first. Over the last r of
them the mean transform has the standard error 1 / sqrt(12 r) (less for rare demand), and the number of transforms
above 0.95 is binomial. An alarm names the r that departs most.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from forecasting.backtest import CLASSES, Backtest, Scores
from forecasting.messages import message

FloatArray = NDArray[np.float64]

# Standard errors that the mean may depart: by chance one SKU in a thousand, for each r.
BAND = 3.3
# Chance of so many outcomes above the 95 % quantile, below which the spread is called too narrow.
LEAST_CHANCE, UPPER = 0.001, 0.95
# SKUs share the luck of a day, so that a class is judged by size: its mean transform in 0.4 to 0.6, and at most twice
# as many outcomes above the quantile as there should be, over three windows or more.
CLASS_BAND, CLASS_WINDOWS, CLASS_SKUS = 0.1, 3, 10
COLUMNS = ("scope", "name", "kind", "since", "windows")
# Marked for translators, as of `message`.
MORE = message("sells more than forecast").template
LESS = message("sells less than forecast").template
NARROW = message("spread too narrow").template


def alarms_of(backtest: Backtest | None, honest: Scores | None, *, skus: pd.Index, periods: pd.Index) -> pd.DataFrame:
    """Return one row per alarm.

    Columns: ``scope`` (sku or class), ``name``, ``kind``, ``since`` (label of the first period of the oldest window
    that the alarm rests on) and ``windows``.

    References
    ----------
    Page, E.S. (1954), Continuous inspection schemes, Biometrika 41, 100-115: sums over the youngest observations.
    Czado, C., Gneiting, T. & Held, L. (2009), Predictive model assessment for count data, Biometrics 65, 1254-1261.
    """
    if backtest is None or honest is None:
        return pd.DataFrame(columns=list(COLUMNS))
    apart = _apart(backtest, honest)
    if not apart.size:
        return pd.DataFrame(columns=list(COLUMNS))
    since = periods[np.array(backtest.origins)[apart]]
    centre, above = _transforms(honest, apart)
    rows = [("sku", skus[s], kind, since[r - 1], r) for s, kind, r in _of_skus(centre, above)]
    classes = backtest.demand_class[apart]
    for c, name in enumerate(CLASSES):
        rows += [("class", name, kind, since[r - 1], r) for kind, r in _of_class(centre, above, classes == c)]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _apart(backtest: Backtest, honest: Scores) -> NDArray[np.intp]:
    """Return the scored origins, youngest first, each a longest horizon apart from the next."""
    scored = [j for j in range(len(backtest.origins)) if not np.isnan(honest.loss[j]).all()]
    kept: list[int] = []
    for j in reversed(scored):
        if not kept or backtest.origins[kept[-1]] - backtest.origins[j] >= backtest.horizons[-1]:
            kept.append(j)
    return np.array(kept, dtype=np.intp)


def _transforms(honest: Scores, at: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
    """Return the mean transform less one half, and the chance that it was above 0.95, each (windows, n)."""
    scores = honest.at(at)
    return (scores.below + scores.at_most) / 2.0 - 0.5, 1.0 - scores.coverage((UPPER,))[..., 0]


def _of_skus(centre: FloatArray, above: FloatArray) -> list[tuple[int, str, int]]:
    """Return (SKU, kind, r) for every SKU that left its band."""
    count = np.cumsum(~np.isnan(centre), axis=0)
    departs = np.cumsum(np.nan_to_num(centre), axis=0) / np.sqrt(np.maximum(count, 1) / 12.0)
    n_above = np.ceil(np.cumsum(np.nan_to_num(above), axis=0) - 1e-9)
    chance = np.asarray(stats.binom.sf(n_above - 1.0, count, 1.0 - UPPER))
    found = []
    for kind, strength, limit in ((MORE, departs, BAND), (LESS, -departs, BAND), (NARROW, -chance, -LEAST_CHANCE)):
        worst = strength.argmax(axis=0)
        for s in np.flatnonzero(strength.max(axis=0) > limit):
            found.append((int(s), kind, int(worst[s]) + 1))
    return sorted(found)


def _of_class(centre: FloatArray, above: FloatArray, is_in: NDArray[np.bool_]) -> list[tuple[str, int]]:
    """Return (kind, r) where a class of enough SKUs left its band over the last r windows."""
    counts = is_in & ~np.isnan(centre)
    if counts.sum(axis=1).min() < CLASS_SKUS:
        return []
    size = np.cumsum(counts.sum(axis=1))
    mean, share = (np.cumsum(np.where(counts, part, 0.0).sum(axis=1)) / size for part in (centre, above))
    found, windows = [], np.arange(1, size.size + 1)
    narrow = share - 2.0 * (1.0 - UPPER) + CLASS_BAND
    for kind, strength in ((MORE, mean), (LESS, -mean), (NARROW, narrow)):
        departs = np.where(windows >= CLASS_WINDOWS, strength, 0.0)
        if departs.max() > CLASS_BAND:
            found.append((kind, int((departs * np.sqrt(windows)).argmax()) + 1))
    return found
