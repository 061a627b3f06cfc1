"""How demand for a new SKU differs from what it settles at, by age, learned from earlier launches.

A launch is seen where a record begins later than the table. What it sold at an age, over its level once settled, is
pooled over all launches; a SKU that is young today has its demand divided by that curve before its level is drawn, and
its coming periods multiplied by it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# A SKU has settled after half a year; its age until then is told in stages that double. Rules of ours.
SETTLED_YEARS, STAGES = 0.5, 5
# Settled launches that a curve of 1 counts for, and the units expected in a stage; rules of ours.
PRIOR_LAUNCHES, PRIOR_UNITS = 5.0, 25.0
# A launch shows its level if a quarter of the half year after it settled is known.
LEAST_SETTLED = 0.25


def launch_factors(units: FloatArray, *, ahead: int, year: int) -> FloatArray:
    """Return the factor of each past and coming period of SKUs whose record begins late, shape (m, T + ahead).

    Parameters
    ----------
    units : ndarray, shape (m, T)
        Demand over its other factors; NaN where unknown, as the first period is.
    ahead : int
        Coming periods.
    year : int
        Periods per year; 0 where unknown, which gives no curve.
    """
    settled = round(SETTLED_YEARS * year)
    age = np.arange(units.shape[1] + ahead) - _first_known(units)[:, None]
    if settled < 1:
        return np.ones(age.shape)
    stage = stages_of(age, settled=settled)
    past = slice(0, units.shape[1])
    curve = launch_curve(units, stage=stage[:, past], age=age[:, past], settled=settled)
    return np.asarray(np.append(curve, 1.0)[stage])


def stages_of(age: IntArray, *, settled: int) -> IntArray:
    """Return 0 .. STAGES - 1 from the launch on, doubling in length, and STAGES once settled or before the launch."""
    ends = np.ceil(settled / 2.0 ** np.arange(STAGES - 1, -1, -1))
    return np.asarray(np.where(age < 0, STAGES, np.searchsorted(ends, age, side="right")), dtype=np.int64)


def launch_curve(units: FloatArray, *, stage: IntArray, age: IntArray, settled: int) -> FloatArray:
    """Return demand in each stage over the level once settled, shape (STAGES,).

    The ratio of the sums over all launches that have settled, shrunk to 1 by the units that it rests on and by the
    number of launches: each has its own story.
    """
    after = (age >= settled) & (age < 2 * settled) & ~np.isnan(units)
    known = after.sum(axis=1)
    level = np.where(after, units, 0.0).sum(axis=1) / np.maximum(known, 1)
    shows = (known >= LEAST_SETTLED * settled) & (level > 0)
    in_stage = (stage[None] == np.arange(STAGES)[:, None, None]) & ~np.isnan(units) & shows[:, None]
    periods = in_stage.sum(axis=2)
    sold, expected = np.where(in_stage, units, 0.0).sum(axis=(1, 2)), periods @ level
    ratio = (sold + PRIOR_UNITS) / (expected + PRIOR_UNITS)
    launches = (periods > 0).sum(axis=1)
    return np.asarray(1.0 + launches / (launches + PRIOR_LAUNCHES) * (ratio - 1.0))


def _first_known(units: FloatArray) -> IntArray:
    """Return the first known period of each SKU; T for one that has none yet."""
    is_known = ~np.isnan(units)
    return np.asarray(np.where(is_known.any(axis=1), is_known.argmax(axis=1), units.shape[1]), dtype=np.int64)
