"""How the forecast of each SKU did on past windows that it had not seen: loss, and where outcomes fell."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.backtest import Backtest, Scores

FloatArray = NDArray[np.float64]

TENTHS = 10
COLUMNS = ("windows", "demand", "loss", "plain_loss")


def pit_columns() -> list[str]:
    """Return the names of the columns of the histogram, one per tenth of the distribution."""
    return [f"pit_{tenth}" for tenth in range(1, TENTHS + 1)]


def track_records(
    backtest: Backtest | None, honest: Scores | None, *, skus: pd.Index, quantum: FloatArray
) -> pd.DataFrame:
    """Return one row per SKU; a SKU without a scored window has 0 windows and nothing else.

    Columns: ``windows`` scored; ``demand`` that came in them; ``loss``, the sum of the pinball losses averaged over the
    quantiles, in units; ``plain_loss``, the least of any plain method that was scored on the same windows, chosen with
    hindsight; and the histogram of the probability integral transform, ``pit_1`` .. ``pit_10``: how many outcomes fell
    into each tenth of their forecast distribution. A calibrated forecast has about a tenth of its windows in each.

    References
    ----------
    Czado, C., Gneiting, T. & Held, L. (2009), Predictive model assessment for count data, Biometrics 65, 1254-1261:
    the histogram of counts, in which an outcome is spread over the tenths that its probability covers.
    """
    columns = [*COLUMNS, *pit_columns()]
    if backtest is None or honest is None:
        return pd.DataFrame(0.0, index=skus, columns=columns)
    is_scored = ~np.isnan(honest.loss)
    shared = np.where(is_scored[:, None], backtest.plain.loss, 0.0).sum(axis=0)
    best = np.where(np.isnan(shared).all(axis=0), np.nan, np.fmin.reduce(shared, axis=0))
    reached = honest.coverage(tuple(np.arange(1, TENTHS + 1) / TENTHS))
    by_tenth = np.diff(np.where(is_scored[..., None], reached, 0.0).sum(axis=0), axis=1, prepend=0.0)
    sums = [np.where(is_scored, part, 0.0).sum(axis=0) * quantum for part in (backtest.actual, honest.loss)]
    table = np.column_stack([is_scored.sum(axis=0), *sums, best * quantum, by_tenth])
    return pd.DataFrame(table, index=skus, columns=columns)
