"""The one entry point: history in, distributions of cumulated demand out."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.alarms import alarms_of
from forecasting.backtest import class_index, origins_for, run_backtest
from forecasting.benchmarks import benchmark_table
from forecasting.demand import demand_of, orders_of
from forecasting.errors import HorizonError, ParameterError
from forecasting.known_factors import known_factors
from forecasting.methods.candidates import Candidate, candidates_for, with_a_say
from forecasting.outlook import stacked
from forecasting.past import Past, Setting
from forecasting.periods import check_consecutive
from forecasting.pooling import groups_of, phases_of
from forecasting.quanta import counted, quanta_of
from forecasting.reasons import reasons_for
from forecasting.result import DemandForecast, Proof
from forecasting.selection import Choice, choose, honest_scores, prior_weights
from forecasting.stacking import usable
from forecasting.track_record import track_records

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

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
    orders: pd.DataFrame | None = None,
    risk_periods: Mapping[Hashable, int] | None = None,
) -> DemandForecast:
    """Forecast demand per SKU, cumulated over the next h periods, with the method that proved best.

    Parameters
    ----------
    history : DataFrame
        Index: consecutive periods (ship days, weeks, months), oldest first; columns: SKUs; units >= 0, NaN where
        unknown, as before the SKU existed.
    horizons : sequence of int
        Numbers of periods h >= 1.
    quantiles : sequence of float
        Probabilities in (0, 1) that the choice is scored on.
    attributes : DataFrame, optional
        Index: SKUs; columns: categories. The first one groups the factors of weekday or season (as material does);
        all of them make the prior of new and sparse SKUs.
    available : DataFrame, optional
        Share of each period in which the SKU could be sold, labelled as the history.
    events : DataFrame, optional
        Known factors of demand (2.0: twice as much), > 0; index: the periods of the history followed by at least the
        ``max(horizons)`` coming ones; columns as the history.
    calendar : DatetimeIndex, optional
        The coming periods. With it each weekday has its factor, learned from the dates of the history, which then may
        leave days out: they are ship days.
    season_length : int, optional
        Periods per season, for series without a calendar.
    orders : DataFrame, optional
        How many orders the demand of each period came from, labelled as the history: whole numbers >= 0, at least 1
        where there is demand. With it arrivals and sizes of orders are learned apart.
    risk_periods : mapping, optional
        Periods per SKU on which methods are compared; the longest horizon where not given.

    Returns
    -------
    DemandForecast

    Raises
    ------
    ForecastingError
        A subclass that names the row and column, SKU or constant at fault.

    Notes
    -----
    Cost is linear in SKUs; no loop over SKUs but for the sentences. The same input gives the same answer.

    Examples
    --------
    >>> table = pd.DataFrame({"A": [0.0, 2, 0, 1] * 20, "B": [5.0, 4, 6, 5] * 20})
    >>> forecast(table, horizons=[1, 5]).mean.shape
    (2, 2)
    """
    ahead = checked_horizons(horizons)
    asked, longest = _checked_quantiles(quantiles), int(ahead[-1])
    demand = demand_of(history, available=available)
    if calendar is None:
        check_consecutive(demand.periods)
    quantum = quanta_of(demand.units)
    risk = _risk_of(demand.skus, risk_periods, longest=longest)
    setting = Setting(
        skus=demand.skus,
        units=counted(demand.units, quantum[:, None]),
        phases=phases_of(demand.periods, longest=longest, calendar=calendar, season_length=season_length),
        group=groups_of(demand.skus, attributes),
        attributes=attributes,
        uplift=known_factors(events=events, available=available, demand=demand, longest=longest),
        longest=longest,
        orders=None if orders is None else orders_of(orders, history, demand),
    )
    candidates = candidates_for(has_season=setting.phases.season_length > 1, has_orders=orders is not None)
    origins = origins_for(demand.n_periods, season_length=setting.phases.season_length)
    prior, backtest, honest = prior_weights(candidates), None, None
    if origins:
        backtest = run_backtest(
            setting, candidates=candidates, origins=origins, horizons=ahead, risk=risk, quantiles=asked
        )
        honest = honest_scores(backtest, prior=prior, quantiles=asked)
    choice = choose(backtest, honest, origin=demand.n_periods, prior=prior)
    past = Past(setting, demand.n_periods)
    proof = Proof(
        benchmarks=benchmark_table(backtest, honest, candidates, quantiles=asked),
        alarms=alarms_of(backtest, honest, skus=demand.skus, periods=demand.periods),
        track=track_records(backtest, honest, skus=demand.skus, quantum=quantum),
    )
    return _present(past, candidates, choice, proof, ahead=ahead, risk=risk, quantiles=asked, quantum=quantum)


def _present(
    past: Past,
    candidates: tuple[Candidate, ...],
    choice: Choice,
    proof: Proof,
    *,
    ahead: IntArray,
    risk: IntArray,
    quantiles: tuple[float, ...],
    quantum: FloatArray,
) -> DemandForecast:
    """Forecast from the end of the record with the weights of each class."""
    classes, skus = class_index(past.demand_class), past.setting.skus
    everything = [c.outlook(past) for c in candidates]
    said = stacked(with_a_say(everything, candidates, past)).at(ahead)
    weight = usable(choice.weight[classes].T, applies=said.applies)
    used = np.asarray(weight.any(axis=1))
    reasons = reasons_for(choice, candidates, weight=weight, past=past, classes=classes, risk=risk)
    names = np.array([c.name for c in candidates], dtype=object)
    return DemandForecast(
        skus=skus,
        horizons=ahead,
        outlook=said.of(used),
        weight=weight[used],
        method=pd.Series(names[weight.argmax(axis=0)], index=skus),
        reason=pd.Series(reasons, index=skus),
        demand_class=pd.Series(past.demand_class, index=skus),
        proof=proof,
        quantiles=quantiles,
        quantum=quantum,
    )


def checked_horizons(horizons: Sequence[int]) -> IntArray:
    """Return the horizons ascending, each once.

    Raises
    ------
    HorizonError
        If there is none, or one that is no whole number >= 1.
    """
    ahead = np.unique(np.asarray(list(horizons)))
    if ahead.size == 0 or not np.issubdtype(ahead.dtype, np.integer) or ahead[0] < 1:
        raise HorizonError("horizons must be whole numbers >= 1; got {horizons!s}", horizons=list(horizons))
    return ahead.astype(np.int64)


def _checked_quantiles(quantiles: Sequence[float]) -> tuple[float, ...]:
    asked = tuple(float(q) for q in quantiles)
    if not asked or not all(0.0 < q < 1.0 for q in asked):
        raise ParameterError("quantiles must be probabilities in (0, 1); got {quantiles!s}", quantiles=list(quantiles))
    return asked


def _risk_of(skus: pd.Index, risk_periods: Mapping[Hashable, int] | None, *, longest: int) -> IntArray:
    if risk_periods is None:
        return np.full(len(skus), longest, dtype=np.int64)
    missing = [sku for sku in skus if sku not in risk_periods]
    if missing:
        raise HorizonError("risk_periods lack SKU {sku!r} ({n} missing)", sku=missing[0], n=len(missing))
    risk = np.array([risk_periods[sku] for sku in skus])
    is_bad = (risk < 1) | (risk > longest) | (risk != np.floor(risk))
    if is_bad.any():
        sku = skus[int(is_bad.argmax())]
        raise HorizonError(
            "risk period of SKU {sku!r} must be in 1..{longest}; got {periods}",
            sku=sku,
            longest=longest,
            periods=risk_periods[sku],
        )
    return risk.astype(np.int64)
