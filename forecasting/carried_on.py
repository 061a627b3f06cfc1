"""Mean demand beyond the horizon of a forecast: its level goes on, with the factors of the later periods."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.demand import demand_of
from forecasting.errors import HorizonError
from forecasting.known_factors import known_factors
from forecasting.period_factors import period_factors
from forecasting.pooling import groups_of, phases_of

FloatArray = NDArray[np.float64]


def carried_on(
    history: pd.DataFrame,
    *,
    near: FloatArray,
    calendar: pd.DatetimeIndex,
    attributes: pd.DataFrame | None = None,
    available: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
) -> FloatArray:
    """Return the mean demand of each period after the horizon H of a forecast, shape (n, len(calendar) - H).

    The forecast's mean is divided by the factors of its own periods (weekday, month, closures, age, events), which
    gives a level, and multiplied by those of the later ones. The first coming period is left out of the level: of the
    one under way a part has arrived already.

    Parameters
    ----------
    history, attributes, available, events
        As `forecast` was given them; the events reach as far as the calendar.
    near : ndarray, shape (n, H)
        Mean of the forecast, cumulated over the first H >= 2 periods of the calendar; rows in the order of the columns
        of the history.
    calendar : DatetimeIndex
        All coming periods, the later ones included.

    Raises
    ------
    ForecastingError
        A subclass, as `forecast` does; `HorizonError` where the calendar does not reach beyond the horizon.
    """
    demand, horizon, longest = demand_of(history, available=available), near.shape[1], len(calendar)
    if not 2 <= horizon < longest:
        raise HorizonError(
            "the calendar must go on after the {n} periods of the forecast; got {got}", n=horizon, got=longest
        )
    factors = period_factors(
        demand.units,
        phases=phases_of(demand.periods, longest=longest, calendar=calendar, season_length=None),
        group=groups_of(demand.skus, attributes),
        uplift=known_factors(events=events, available=available, demand=demand, longest=longest),
    )[:, demand.n_periods :]
    level = (near[:, -1] - near[:, 0]) / factors[:, 1:horizon].sum(axis=1)
    return np.asarray(level[:, None] * factors[:, horizon:])
