"""Factors of the months of a year, pooled over SKUs, for daily records of more than a year."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MONTHS = 12
DAYS_PER_YEAR = 365.25
# One observed year of a month moves its factor by two thirds of what it showed: a single year may be chance.
PRIOR_YEARS = 0.5
# Units that a group must expect in a month before it counts as much as all SKUs together; a rule of ours.
PRIOR_UNITS = 1000.0


def periods_per_year(days: pd.DatetimeIndex) -> int:
    """Return how many periods of the record make a year."""
    span_days = (days[-1] - days[0]).days
    return round(DAYS_PER_YEAR * (len(days) - 1) / span_days) if span_days > 0 else 0


def month_factors(total: FloatArray, *, month: IntArray, year: int) -> FloatArray:
    """Return the factor of each month for each group: classical decomposition of the pooled demand.

    Demand over its centred mean of a whole year, summed by month; shrunk to the ratio of all SKUs and, by the number
    of years seen, to 1. Only periods with half a year on either side count, so a record of a year gives none.

    Parameters
    ----------
    total : ndarray, shape (groups, T)
        Demand of each group without its weekday factors.
    month : ndarray of int, shape (T,)
        Month of each period, 0 to 11.
    year : int
        Periods per year.

    Returns
    -------
    ndarray of float, shape (groups, 12)

    References
    ----------
    Hyndman, R.J. & Athanasopoulos, G., Forecasting: Principles and Practice, OTexts: classical decomposition.
    """
    n_groups, half = total.shape[0], (year + 1) // 2
    first, last = half, total.shape[1] - half
    if last <= first or year < MONTHS:
        return np.ones((n_groups, MONTHS))
    running = np.cumsum(np.concatenate([np.zeros((n_groups, 1)), total], axis=1), axis=1)
    level = (running[:, 2 * half :] - running[:, : -2 * half])[:, : last - first] / (2 * half)
    in_month = (month[first:last, None] == np.arange(MONTHS)).astype(float)
    sold, expected = total[:, first:last] @ in_month, level @ in_month
    overall = np.divide(sold.sum(axis=0), expected.sum(axis=0), out=np.ones(MONTHS), where=expected.sum(axis=0) > 0)
    years = in_month.sum(axis=0) * MONTHS / year
    ratio = (sold + PRIOR_UNITS * overall) / (expected + PRIOR_UNITS)
    return np.asarray(1.0 + years / (years + PRIOR_YEARS) * (ratio - 1.0))
