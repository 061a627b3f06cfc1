"""Simple exponential smoothing of whole matrices."""

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
    decaying,
)


@dataclass(frozen=True)
class SesLevels(SmoothedLevels):
    """Level l_t = l_{t-1} + a (y_t - l_{t-1}), started at the first known value.

    References
    ----------
    Hyndman, R.J. & Athanasopoulos, G., Forecasting: Principles and Practice, OTexts, section on simple exponential
    smoothing.
    """

    @classmethod
    def unsold(cls, n_skus: int, *, constants: Constants = CONSTANTS) -> SesLevels:
        """Return the levels of SKUs without any record."""
        check_constants(constants, name="constant")
        rate, error = np.zeros((2, n_skus, len(constants)))
        return cls(constants, np.zeros(n_skus, np.int64), rate, error)

    def _advance(self, units: FloatArray) -> None:
        from forecasting.compiled.levels import advance_ses  # noqa: PLC0415 - numba is loaded when first needed

        zeros = self._zeros(periods=units.shape[1])
        advance_ses(units, self.constants, zeros, self.since, (self.rate, self.error))

    def _zeros(self, *, periods: int = 0) -> Zeros:
        return decaying(self.constants, since=self.since, periods=periods)
