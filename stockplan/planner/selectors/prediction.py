"""From the demand known at an instant to the distribution of what is still to arrive, on the axis of a list."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting import forecast
from forecasting.arrival_profile import outlook_to_arrive
from forecasting.carried_on import carried_on
from forecasting.distribution import NegativeBinomial
from forecasting.messages import Message, message
from forecasting.methods.candidates import NONE
from forecasting.mixture import Mixture
from forecasting.outlook import Outlook, mixed
from inventory.rules.calendar import PlantCalendar
from stockplan.planner.core.built_ahead import LaterDemand
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.selectors.announcements import event_factors
from stockplan.planner.selectors.demand_basis import DemandBasis

Floats = NDArray[np.float64]

# Within the days for which closures and holidays are read; whole weeks of them are looked at.
LATER_REACH = timedelta(days=140)


@dataclass(frozen=True)
class Prediction:
    """Demand still to arrive, (S, T) by ship day of the list's axis, cumulated; rows in the order of `sku_ids`.

    `method`, `reason`, `demand_class` are by SKU; `benchmarks` are the rows of the backtest, `alarms` name the SKUs (by
    id) and classes whose demand has lately left the forecast; `track` is how each SKU's forecast did on past demand.
    """

    sku_ids: tuple[int, ...]
    demand: Mixture
    method: tuple[str, ...]
    reason: tuple[Message, ...]
    demand_class: tuple[str, ...]
    benchmarks: tuple[dict[str, object], ...]
    alarms: tuple[dict[str, object], ...]
    track: tuple[dict[str, object], ...]

    @property
    def mean(self) -> Floats:
        """Mean, (S, T)."""
        return self.demand.mean

    @property
    def variance(self) -> Floats:
        """Variance, (S, T)."""
        return self.demand.variance


def predict(
    basis: DemandBasis,
    *,
    as_of: datetime,
    calendar: PlantCalendar,
    days: tuple[date, ...],
    risk_days: Mapping[int, int],
) -> Prediction:
    """Forecast every SKU on a list's axis of ship days.

    SKUs that are not on sale or made to order are forecast as well, for the pages; their demand still to arrive is
    0 for the list, which makes only what is ordered of them.
    """
    sku_ids = tuple(int(s) for s in basis.attributes.index)
    # Between cut-off and pick-up the axis begins with a day for which nothing can arrive any more.
    closed = sum(day < calendar.ship_day_of(as_of) for day in days)
    coming = pd.DatetimeIndex(pd.to_datetime(list(days[closed:])))
    if not len(basis.history):
        return _nothing_known(sku_ids, len(days))
    axis = [*basis.history.index, *days[closed:]]
    events = event_factors(basis.announcements, days=axis, sku_ids=sku_ids)
    found = forecast(
        _dated(basis.history[list(sku_ids)]),
        horizons=range(1, len(coming) + 1),
        attributes=basis.attributes,
        available=_available(basis, sku_ids),
        events=None if events is None else _dated(events),
        calendar=coming,
        orders=_dated(basis.orders[list(sku_ids)]),
        risk_periods={sku: min(risk_days[sku], len(coming)) for sku in sku_ids},
    )
    return Prediction(
        sku_ids=sku_ids,
        demand=mixed(_to_arrive(found.outlook, share_to_arrive=basis.share_to_arrive, closed=closed), found.weight),
        method=tuple(found.method),
        reason=tuple(found.reason),
        demand_class=tuple(found.demand_class),
        benchmarks=tuple(_plain(row) for row in found.benchmarks.reset_index().to_dict("records")),
        alarms=tuple(_plain(row) for row in found.alarms.to_dict("records")),
        track=tuple(_plain(row) for row in found.track.to_dict("records")),
    )


def later_demand(
    basis: DemandBasis, prediction: Prediction, *, facts: PlanFacts, is_made: NDArray[np.bool_]
) -> LaterDemand:
    """Return what the weeks after a list ask for: the forecast as far as it goes, then its level carried on.

    Parameters
    ----------
    facts
        Of the list, on whose axis the prediction is.
    is_made : (S,) False where an SKU is made to order or not on sale.
    """
    calendar, days, mean = facts.calendar, facts.days, prediction.mean
    last = calendar.local_day(facts.as_of) + LATER_REACH
    last -= timedelta(days=last.isoweekday() % 7)
    farther = calendar.ship_days(days[-1] + timedelta(days=1), last)
    inside = sum(day <= facts.last_day for day in days)
    later = np.diff(mean, axis=1)[:, inside - 1 :]
    if len(basis.history) and farther:
        sku_ids, closed = list(prediction.sku_ids), sum(day < calendar.ship_day_of(facts.as_of) for day in days)
        coming = [*days[closed:], *farther]
        events = event_factors(basis.announcements, days=[*basis.history.index, *coming], sku_ids=sku_ids)
        far = carried_on(
            _dated(basis.history[sku_ids]),
            near=mean[:, closed:],
            calendar=pd.DatetimeIndex(pd.to_datetime(coming)),
            attributes=basis.attributes,
            available=_available(basis, sku_ids),
            events=None if events is None else _dated(events),
        )
        later = np.hstack([later, far])
    total = mean[:, -1]
    return LaterDemand(
        days=(*days[inside:], *farther)[: later.shape[1]],
        mean=later * is_made[:, None],
        spread=np.divide(prediction.variance[:, -1], total, out=np.ones_like(total), where=total > 0),
    )


def _available(basis: DemandBasis, sku_ids: Sequence[int]) -> pd.DataFrame | None:
    """Return the shares of days on sale; None where all are whole."""
    return _dated(basis.available[list(sku_ids)]) if (basis.available < 1.0).any(axis=None) else None


def recent_means(basis: DemandBasis, *, last_days: int) -> Floats:
    """Return the mean units per ship day of each SKU over the last days on sale, (S,); 0 where nothing is known."""
    means = basis.history.tail(last_days).mean().reindex(basis.attributes.index).fillna(0.0)
    return means.to_numpy(dtype=np.float64)


def _dated(history: pd.DataFrame) -> pd.DataFrame:
    return history.set_axis(pd.DatetimeIndex(pd.to_datetime(list(history.index))), axis=0)


def _to_arrive(outlook: Outlook, *, share_to_arrive: float, closed: int) -> Outlook:
    """Return what is still to arrive by each method, behind `closed` days on which nothing can."""
    left = outlook_to_arrive(outlook, share_to_arrive=share_to_arrive)
    mean, variance, arrivals = (
        np.pad(part, ((0, 0), (0, 0), (closed, 0))) for part in (left.mean, left.variance, left.arrivals)
    )
    return Outlook(mean, variance, arrivals, left.level_variation)


def _nothing_known(sku_ids: tuple[int, ...], days: int) -> Prediction:
    count = len(sku_ids)
    return Prediction(
        sku_ids=sku_ids,
        demand=Mixture(
            np.ones((1, count, 1)), NegativeBinomial(np.zeros((1, count, days)), np.zeros((1, count, days)))
        ),
        method=(NONE,) * count,
        reason=(message("No ship day of demand is in the books yet."),) * count,
        demand_class=("none",) * count,
        benchmarks=(),
        alarms=(),
        track=({},) * count,
    )


def _plain(row: Mapping[Hashable, object]) -> dict[str, object]:
    """Return a row of the backtest as JSON can hold it: no numpy types, no instants, no NaN."""
    plain = {str(key): value.item() if isinstance(value, np.generic) else value for key, value in row.items()}
    plain |= {key: value.date().isoformat() for key, value in plain.items() if isinstance(value, pd.Timestamp)}
    return {key: None if isinstance(value, float) and not np.isfinite(value) else value for key, value in plain.items()}
