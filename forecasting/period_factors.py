"""Factors of all periods of a record and of the coming ones: what is known, weekday or season, month, closures, age."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecasting.closures import Closures, closure_factors
from forecasting.launches import launch_factors
from forecasting.pooling import Phases, phase_factors
from forecasting.season import month_factors

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def period_factors(units: FloatArray, *, phases: Phases, group: IntArray, uplift: FloatArray | None) -> FloatArray:
    """Return the factors of the past and of the coming periods, each learned with those before it taken out.

    Parameters
    ----------
    units : ndarray, shape (n, T)
        The record; NaN where unknown.
    phases : Phases
        Of its T periods and of H coming ones.
    group : ndarray of int, shape (n,)
    uplift : ndarray, shape (n, T + H), or None
        Known factors.

    Returns
    -------
    ndarray, shape (n, T + H)
    """
    shape = units.shape[0], phases.past.size + phases.ahead.size
    factors = np.ones(shape) if uplift is None else uplift.copy()
    own = _multiply_by_phases(factors, units, phases=phases, group=group, is_plain=uplift is None)
    if phases.month is not None:
        _multiply_by_months(factors, units, month=phases.month, year=phases.year, group=group)
    if phases.closures is not None and own is not None:
        _multiply_by_closures(factors, units, phases=phases, closures=phases.closures, own=own)
    late = np.flatnonzero(np.isnan(units[:, 0]))
    if late.size:
        plain = units[late] / factors[late, : units.shape[1]]
        factors[late] *= launch_factors(plain, ahead=phases.ahead.size, year=phases.year)
    return factors


def _multiply_by_phases(
    factors: FloatArray, units: FloatArray, *, phases: Phases, group: IntArray, is_plain: bool
) -> FloatArray | None:
    """Multiply by the factors of weekday or season, and return these, (n, phases); None where there is one phase."""
    from forecasting.compiled.phases import multiply_by_phase  # noqa: PLC0415 - numba is loaded when first needed

    if phases.count == 1:
        return None
    plain = units if is_plain else units / factors[:, : units.shape[1]]
    own = phase_factors(plain, phase=phases.past, n_phases=phases.count, group=group)
    multiply_by_phase(factors, own, np.concatenate([phases.past, phases.ahead]), np.arange(units.shape[0]))
    return own


def _multiply_by_months(factors: FloatArray, units: FloatArray, *, month: IntArray, year: int, group: IntArray) -> None:
    from forecasting.compiled.phases import group_totals, multiply_by_phase  # noqa: PLC0415 - numba loads when needed

    totals = group_totals(units, factors, group, int(group.max(initial=0)) + 1)
    yearly = month_factors(totals, month=month[: units.shape[1]], year=year)
    multiply_by_phase(factors, yearly, month, group)


def _multiply_by_closures(
    factors: FloatArray, units: FloatArray, *, phases: Phases, closures: Closures, own: FloatArray
) -> None:
    from forecasting.compiled.phases import group_totals  # noqa: PLC0415 - numba is loaded when first needed

    if closures.after.size == 0:
        return
    n = units.shape[0]
    total = group_totals(units, factors, np.zeros(n, dtype=np.int64), 1)[0]
    weekday, weight = np.concatenate([phases.past, phases.ahead]), np.nansum(units, axis=1)
    after, before = closure_factors(total, closures, weekday=weekday, own=own, weight=weight)
    factors[:, closures.before] *= before
    factors[:, closures.after] *= after
