"""The levels of every method over one record, kept from night to night: a new period costs next to nothing."""

from __future__ import annotations

from collections.abc import Hashable
from copy import deepcopy
from dataclasses import dataclass

import numpy as np
import pandas as pd

from forecasting.demand import demand_of
from forecasting.errors import DemandTableError
from forecasting.levels import CONSTANTS, Constants, FloatArray
from forecasting.methods.croston import SbaLevels
from forecasting.methods.smoothing import SesLevels
from forecasting.methods.tsb import SIZE_CONSTANTS, TsbLevels


@dataclass(frozen=True)
class Levels:
    """The levels of every method, all for the same constants."""

    ses: SesLevels
    sba: SbaLevels
    tsb: TsbLevels

    def advance(self, units: FloatArray) -> None:
        """Take in the next periods, shape (n, k)."""
        for levels in (self.ses, self.sba, self.tsb):
            levels.advance(units)

    def after(self, units: FloatArray) -> Levels:
        """Return the levels after the next periods, and leave these as they are."""
        levels = deepcopy(self)
        levels.advance(units)
        return levels


def levels_of(units: FloatArray, *, constants: Constants = CONSTANTS) -> Levels:
    """Return the levels after a record, shape (n, T), for some of ``CONSTANTS``."""
    n_skus = units.shape[0]
    sizes = tuple(SIZE_CONSTANTS[CONSTANTS.index(constant)] for constant in constants)
    levels = Levels(
        SesLevels.unsold(n_skus, constants=constants),
        SbaLevels.unsold(n_skus, constants=constants),
        TsbLevels.unsold(n_skus, size_constants=sizes, probability_constants=constants),
    )
    levels.advance(units)
    return levels


@dataclass
class DemandStates:
    """Levels that go on where the record ended.

    Attributes
    ----------
    skus : pandas.Index
        Labels of the n SKUs.
    period : hashable
        Label of the last period taken in.
    levels : Levels
    """

    skus: pd.Index
    period: Hashable
    levels: Levels

    def update(self, new_row: pd.Series) -> None:
        """Take in the next period; the levels are then those of a fit to the longer record, bit for bit.

        Parameters
        ----------
        new_row : Series
            Units by SKU, in the order of the history; NaN where unknown. Its name is the label of the period.

        Raises
        ------
        DemandTableError
            If the SKUs differ, the period is not later than the last one, or a value is no demand. Nothing is
            taken in then.
        """
        if not new_row.index.equals(self.skus):
            raise DemandTableError("a new period must have the SKUs of the history, in the same order")
        if not new_row.name > self.period:  # type: ignore[operator]
            row = new_row.name
            raise DemandTableError(
                "periods must ascend; row {row!r} comes after {before!r}", row=row, before=self.period
            )
        self.levels.advance(_units_of(new_row)[:, None])
        self.period = new_row.name


def _units_of(new_row: pd.Series) -> FloatArray:
    """Return the numbers of a row; what is not plain demand goes through the check that names row and column."""
    if new_row.dtype.kind == "f":
        units = new_row.to_numpy(dtype=float)
        if not (np.isinf(units) | (units < 0)).any():
            return units
    return demand_of(new_row.to_frame().T).units[:, 0]


def fit_states(history: pd.DataFrame) -> DemandStates:
    """Return the levels after a history, to be kept and updated.

    Parameters
    ----------
    history : DataFrame
        As for ``forecast``: consecutive periods by SKUs, units >= 0, NaN where unknown.

    Raises
    ------
    DemandTableError
        With the row and column of the first fault.

    Examples
    --------
    >>> states = fit_states(pd.DataFrame({"A": [0.0, 2.0, 0.0]}))
    >>> states.update(pd.Series({"A": 4.0}, name=3))
    >>> float(states.levels.ses.now()[0, -1].round(4))  # constant 0.4: 0.8 after 2, 0.48 after 0, then 4
    1.888
    """
    demand = demand_of(history)
    return DemandStates(demand.skus, demand.periods[-1], levels_of(demand.units))
