"""Smoothed levels for many constants at once, and the constant with the least squared error.

Between two demands the level of Croston's family stands still, and those of simple smoothing and of Teunter, Syntetos
and Babai decay by 1 - a in every period. So the squared one-step errors over m periods without demand after a level f
have a closed form,

    f^2 m   or   f^2 (1 + d + ... + d^(m-1)) = f^2 (1 - d^m) / (1 - d)   with d = (1 - a)^2,

and nothing runs over periods. The states stand as they were right after the last demand, beside the number of known
periods since; so further periods can be taken in at any time, and the bits are those of the whole record at once.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from forecasting.errors import ParameterError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Constants = tuple[float, ...]
Zeros = tuple[FloatArray, FloatArray]

CONSTANTS: Constants = (0.01, 0.02, 0.05, 0.08, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4)
# Longest run of zeros that the first table of decays serves; it is doubled as needed.
FIRST_TABLE = 1024


@dataclass(frozen=True)
class SmoothedLevels(ABC):
    """Levels of n SKUs for c constants. The arrays change as periods are taken in.

    Attributes
    ----------
    constants : tuple of float
        Smoothing constants a of the level, each in (0, 1].
    since : ndarray of int, shape (n,)
        Known periods since the last demand, or since the start of the record.
    rate : ndarray, shape (n, c)
        Demand per period expected right after the last demand; 0 before the first.
    error : ndarray, shape (n, c)
        Squared one-step errors from the first demand to the last; before it no level is known.
    """

    constants: Constants
    since: IntArray
    rate: FloatArray
    error: FloatArray

    def advance(self, units: FloatArray) -> None:
        """Take in the next periods, shape (n, k); NaN where unknown, which leaves a level as it is.

        Raises
        ------
        ParameterError
            If the periods are of another number of SKUs.
        """
        if units.ndim != 2 or units.shape[0] != self.since.size:
            raise ParameterError(
                "need periods of {skus} SKUs, (n, k); got shape {shape!s}", skus=self.since.size, shape=units.shape
            )
        self._advance(np.ascontiguousarray(units))

    def now(self) -> FloatArray:
        """Return the demand expected in the next period, shape (n, c); 0 for a SKU that never sold."""
        decay, _ = self._zeros()
        return np.asarray(self.rate * decay[self.since])

    def chosen(self) -> FloatArray:
        """Return the demand expected in the next period, shape (n,), by each SKU's constant of least squared error."""
        from forecasting.compiled.levels import best_rates  # noqa: PLC0415 - numba is loaded when first needed

        return np.asarray(best_rates(self._zeros(), self.since, self.rate, self.error))

    @abstractmethod
    def _advance(self, units: FloatArray) -> None: ...

    @abstractmethod
    def _zeros(self, *, periods: int = 0) -> Zeros:
        """Return decay and sum of squares over m zeros, for all m within so many further periods, shape (> m, c)."""


def check_constants(constants: Constants, *, name: str) -> None:
    """Raise ParameterError unless all constants are in (0, 1]."""
    for constant in constants:
        if not 0.0 < constant <= 1.0:
            raise ParameterError("{name} must be in (0, 1]; got {constant}", name=name, constant=constant)


def standing(constants: Constants, *, since: IntArray, periods: int) -> Zeros:
    """Return the table of a level that zeros leave alone."""
    return _standing(len(constants), _table_length(since, periods))


def decaying(constants: Constants, *, since: IntArray, periods: int) -> Zeros:
    """Return the table of a level that every zero multiplies by 1 - a."""
    return _decaying(constants, _table_length(since, periods))


def _table_length(since: IntArray, periods: int) -> int:
    longest = int(since.max(initial=0)) + periods
    return int(FIRST_TABLE * 2 ** (longest // FIRST_TABLE).bit_length())


@lru_cache(maxsize=16)
def _standing(n_constants: int, length: int) -> Zeros:
    return np.ones((length, n_constants)), np.repeat(np.arange(float(length))[:, None], n_constants, axis=1)


@lru_cache(maxsize=64)
def _decaying(constants: Constants, length: int) -> Zeros:
    a = np.array(constants)
    steps = np.full((length, a.size), 1.0 - a)
    steps[0] = 1.0
    # One multiplication after the other: a longer table starts with the bits of a shorter one, powers might not.
    decay = np.multiply.accumulate(steps, axis=0)
    return decay, (1.0 - decay * decay) / (a * (2.0 - a))
