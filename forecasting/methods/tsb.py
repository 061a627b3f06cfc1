"""The method of Teunter, Syntetos and Babai: probability and size of demand smoothed apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from forecasting.errors import ParameterError
from forecasting.levels import (
    CONSTANTS,
    Constants,
    FloatArray,
    SmoothedLevels,
    Zeros,
    check_constants,
    decaying,
)

# Sizes are seen at demands alone, so they are smoothed about twice as fast as the probability; a rule of ours.
SIZE_CONSTANTS: Constants = (0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.5, 0.5)


@dataclass(frozen=True)
class TsbLevels(SmoothedLevels):
    """Demand per period as probability x size.

    The probability is smoothed in every period (so a SKU that stops selling fades), by ``constants``; the size only
    where demand occurs, by ``size_constants``. Both start at their first value.

    Attributes
    ----------
    size_constants : tuple of float
        One per constant of the probability.
    size, probability : ndarray, shape (n, c)
        Right after the last demand.

    References
    ----------
    Teunter, R.H., Syntetos, A.A. & Babai, M.Z. (2011), Intermittent demand: linking forecasting to inventory
    obsolescence, European Journal of Operational Research 214(3), 606-615.
    """

    size_constants: Constants
    size: FloatArray
    probability: FloatArray

    @classmethod
    def unsold(
        cls, n_skus: int, *, size_constants: Constants = SIZE_CONSTANTS, probability_constants: Constants = CONSTANTS
    ) -> TsbLevels:
        """Return the levels of SKUs without any record.

        Raises
        ------
        ParameterError
            Unless all constants are in (0, 1] and there is one for the size per one for the probability.
        """
        check_constants(size_constants, name="size_constant")
        check_constants(probability_constants, name="probability_constant")
        if len(size_constants) != len(probability_constants):
            raise ParameterError(
                "need one size_constant per probability_constant; got {sizes} and {probabilities}",
                sizes=len(size_constants),
                probabilities=len(probability_constants),
            )
        rate, error, size, probability = np.zeros((4, n_skus, len(size_constants)))
        since = np.zeros(n_skus, np.int64)
        return cls(probability_constants, since, rate, error, size_constants, size, probability)

    def _advance(self, units: FloatArray) -> None:
        from forecasting.compiled.levels import advance_tsb  # noqa: PLC0415 - numba is loaded when first needed

        states = (self.size, self.probability, self.rate, self.error)
        zeros = self._zeros(periods=units.shape[1])
        advance_tsb(units, (self.size_constants, self.constants), zeros, self.since, states)

    def _zeros(self, *, periods: int = 0) -> Zeros:
        return decaying(self.constants, since=self.since, periods=periods)
