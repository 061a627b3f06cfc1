"""Factors of demand that are known beforehand: events, and the share of a period in which a SKU could be sold.

What was seen of a period is its demand times that share, so the share is a factor like any other: a period of small
share says little about the level. To divide by it instead would turn one unit sold in a tenth of a day into ten.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.demand import Demand, numbers_of
from forecasting.errors import DemandTableError
from forecasting.messages import message

FloatArray = NDArray[np.float64]


def known_factors(
    *, events: pd.DataFrame | None, available: pd.DataFrame | None, demand: Demand, longest: int
) -> FloatArray | None:
    """Return the product of both kinds of factors, shape (n, T + H); None where neither is known.

    A SKU is taken as fully available in the coming periods.

    Raises
    ------
    DemandTableError
        If the events do not go with the history, or a factor is not > 0.
    """
    if events is None and available is None:
        return None
    factors = np.ones((demand.n_skus, demand.n_periods + longest))
    if events is not None:
        factors *= _of_events(events, demand, longest)
    if available is not None:
        factors[:, : demand.n_periods] *= _of_shares(available)
    return factors


def _of_shares(available: pd.DataFrame) -> FloatArray:
    """Return the share of each period, (n, T); 1 where there was none, as demand is unknown there anyway."""
    share = available.to_numpy(dtype=float).T
    return np.asarray(np.where(share > 0, share, 1.0))


def _of_events(events: pd.DataFrame, demand: Demand, longest: int) -> FloatArray:
    periods = events.index.to_timestamp() if isinstance(events.index, pd.PeriodIndex) else events.index
    if not events.columns.equals(demand.skus) or not periods[: demand.n_periods].equals(demand.periods):
        raise DemandTableError("events must have the columns of the history and start with its periods")
    if len(events) < demand.n_periods + longest:
        raise DemandTableError("events must go on for {longest} periods after the history", longest=longest)
    factors = numbers_of(events, what=message("a factor of events"))
    is_bad = ~(np.isfinite(factors) & (factors > 0))
    if is_bad.any():
        i, j = np.argwhere(is_bad)[0]
        row, column = events.index[i], events.columns[j]
        raise DemandTableError(
            "a factor of events must be > 0; got {factor} at row {row!r}, column {column!r}",
            factor=factors[i, j],
            row=row,
            column=column,
        )
    return np.asarray(factors[: demand.n_periods + longest].T)
