"""The levels of all methods over one record, kept from night to night: a new period costs next to nothing."""

from __future__ import annotations

from dataclasses import dataclass

from forecasting.levels import FloatArray
from forecasting.methods.croston import SbaLevels
from forecasting.methods.smoothing import SesLevels
from forecasting.methods.tsb import TsbLevels


@dataclass(frozen=True)
class Levels:
    """The levels of every method for the constants of ``CONSTANTS``."""

    ses: SesLevels
    sba: SbaLevels
    tsb: TsbLevels

    def advance(self, units: FloatArray) -> None:
        """Take in the next periods, shape (n, k)."""
        for levels in (self.ses, self.sba, self.tsb):
            levels.advance(units)


def levels_of(units: FloatArray) -> Levels:
    """Return the levels after a record, shape (n, T)."""
    n_skus = units.shape[0]
    levels = Levels(SesLevels.unsold(n_skus), SbaLevels.unsold(n_skus), TsbLevels.unsold(n_skus))
    levels.advance(units)
    return levels
