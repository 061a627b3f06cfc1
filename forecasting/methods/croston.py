"""Croston's method with the correction of Syntetos and Boylan (SBA)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecasting.levels import (
    CONSTANTS,
    Constants,
    FloatArray,
    SmoothedLevels,
    Zeros,
    check_constants,
    standing,
)


@dataclass(frozen=True)
class SbaLevels(SmoothedLevels):
    """Demand per period by the Syntetos-Boylan approximation, (1 - a / 2) z / p.

    z is the smoothed size and p the smoothed interval between demands, both started at their first value; the first
    interval runs from the start of the record.

    Attributes
    ----------
    size, interval : ndarray, shape (n, c)
        z / a and p / a right after the last demand: divided by the constant, a new value adds to them as it is.

    References
    ----------
    Syntetos, A.A. & Boylan, J.E. (2005), The accuracy of intermittent demand estimates, International Journal of
    Forecasting 21(2), 303-314.
    Croston, J.D. (1972), Forecasting and stock control for intermittent demands, Operational Research Quarterly
    23(3), 289-303.
    """

    size: FloatArray
    interval: FloatArray

    @classmethod
    def unsold(cls, n_skus: int, *, constants: Constants = CONSTANTS) -> SbaLevels:
        """Return the levels of SKUs without any record."""
        check_constants(constants, name="constant")
        rate, error, size, interval = np.zeros((4, n_skus, len(constants)))
        return cls(constants, np.zeros(n_skus, np.int64), rate, error, size, interval)

    def _advance(self, units: FloatArray) -> None:
        from forecasting.compiled.levels import advance_sba  # noqa: PLC0415 - numba is loaded when first needed

        advance_sba(units, self.constants, self.since, (self.size, self.interval, self.rate, self.error))

    def _zeros(self, *, periods: int = 0) -> Zeros:
        return standing(self.constants, since=self.since, periods=periods)
