"""The quantity that demand is counted in: pieces, or a power of ten where they would be too coarse or too fine.

The distributions are of counts. Demand of 0.3 kg is counted in tenths of a kilogram; demand of 10^9 a period in
thousands, or a quantile would be searched for among numbers that floating point does not tell apart.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecasting.methods.events import events_of

FloatArray = NDArray[np.float64]

# Finest power of ten that quantities are taken to be multiples of, and how far off a multiple may be by rounding: so
# much of the quantity (single precision has seven digits), and so much of a quantum.
MOST_DECIMALS = 6
ROUNDING, MOST_ROUNDING = 1e-6, 0.01
# Quantities that are multiples of nothing: a thousandth of the size of a usual demand is fine enough.
USUAL_DEMAND = 1e3
# Above so many quanta in a mean demand of a SKU, its quantum grows.
LARGEST_DEMAND = 1e6


def quanta_of(units: FloatArray) -> FloatArray:
    """Return the quantum of each SKU, shape (n,): 1 for whole quantities up to a million a demand.

    Parameters
    ----------
    units : ndarray, shape (n, T)
        Demand; NaN where unknown.

    Notes
    -----
    The finest step of the table serves all its SKUs: one that happens to have sold whole kilograms only is still kin of
    the others.
    """
    sold = events_of(units)
    mean = np.where(sold.count > 0, sold.mean_size, 1.0)
    largest = 10.0 ** np.floor(np.log10(mean / LARGEST_DEMAND) + 1.0)
    return np.asarray(np.maximum(_step(units[units > 0], usual=float(np.median(mean))), largest))


def _step(sold: FloatArray, *, usual: float) -> float:
    """Return the largest power of ten up to 1 that all quantities are multiples of."""
    for decimals in range(MOST_DECIMALS + 1):
        count = counted(sold, np.asarray(10.0**-decimals))
        if np.array_equal(count, np.rint(count)):
            return 10.0**-decimals
    return float(min(1.0, 10.0 ** np.floor(np.log10(usual / USUAL_DEMAND))))


def counted(quantity: FloatArray, quantum: FloatArray) -> FloatArray:
    """Return quantities as numbers of quanta, without the rounding of a division: 0.3 in tenths is 3."""
    from forecasting.compiled.quanta import count_of  # noqa: PLC0415 - numba is loaded when first needed

    with np.errstate(invalid="ignore"):  # the unknown stays unknown
        return np.asarray(count_of(quantity, quantum))
