"""The one entry point: history in, distributions of cumulated demand out."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence

import numpy as np
import pandas as pd

from forecasting.classification import demand_classes
from forecasting.demand import demand_of
from forecasting.errors import HorizonError
from forecasting.methods.events import events_of, weighted_sum
from forecasting.methods.tsb import tsb_level
from forecasting.result import DemandForecast
from forecasting.spread import cumulated_variance, fit_variance_law, shrunk_variance

DEFAULT_QUANTILES = (0.5, 0.8, 0.9, 0.95, 0.98, 0.99)


def forecast(
    history: pd.DataFrame,
    *,
    horizons: Sequence[int],
    quantiles: Sequence[float] = DEFAULT_QUANTILES,
    attributes: pd.DataFrame | None = None,
    available: pd.DataFrame | None = None,
    events: pd.DataFrame | None = None,
    calendar: pd.DatetimeIndex | None = None,
    season_length: int | None = None,
    risk_periods: Mapping[Hashable, int] | None = None,
) -> DemandForecast:
    """Forecast demand per SKU, cumulated over the next h periods."""
    if len(horizons) == 0 or min(horizons) < 1:
        raise HorizonError(f"horizons must be whole numbers >= 1; got {list(horizons)}")
    demand = demand_of(history, available=available)
    sold = events_of(demand.units)
    level = tsb_level(sold, size_constant=0.1, probability_constant=0.05)
    count = weighted_sum(sold, np.ones(sold.units.size))
    variance = np.nan_to_num(np.nanvar(demand.units, axis=1))
    law = fit_variance_law(mean=level, variance=variance, n_events=count)
    spread = shrunk_variance(mean=level, variance=variance, n_events=count, law=law)
    ahead = np.asarray(sorted(horizons), dtype=np.int64)
    growth = 0.05 / 1.95
    classes = demand_classes(sold)
    n = demand.n_skus
    return DemandForecast(
        skus=demand.skus,
        horizons=ahead,
        mean=level[:, None] * ahead,
        variance=cumulated_variance(
            one_period=spread[:, None], periods=ahead * 1.0, level_growth=np.full((n, 1), growth)
        ),
        level_variance_share=np.divide(growth * spread, level**2, out=np.zeros(n), where=level > 0),
        method=pd.Series("tsb", index=demand.skus),
        reason=pd.Series("probability and size of demand smoothed apart", index=demand.skus),
        demand_class=pd.Series(classes, index=demand.skus),
        benchmarks=pd.DataFrame(),
        quantiles=tuple(quantiles),
    )
