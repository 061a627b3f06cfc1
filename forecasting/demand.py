"""The table of demand: checked once at the border, then plain arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pandas.api.types import is_numeric_dtype

from forecasting.errors import DemandTableError
from forecasting.messages import Message, message

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Demand:
    """Demand per SKU and period, as it was seen.

    Attributes
    ----------
    skus : pandas.Index
        Labels of the SKUs, n of them.
    periods : pandas.Index
        Labels of the T consecutive periods, oldest first; the first day of each where they are time spans.
    units : ndarray of float, shape (n, T)
        Demand; NaN where unknown (before the SKU existed, or while it could not be sold).
    """

    skus: pd.Index
    periods: pd.Index
    units: FloatArray

    @property
    def n_skus(self) -> int:
        return int(self.units.shape[0])

    @property
    def n_periods(self) -> int:
        return int(self.units.shape[1])


def demand_of(history: pd.DataFrame, *, available: pd.DataFrame | None = None) -> Demand:
    """Check a frame of history and return it as arrays.

    Parameters
    ----------
    history : DataFrame
        Index: consecutive periods, oldest first. Columns: SKUs. Values >= 0; NaN where unknown.
    available : DataFrame, optional
        Share of each period in which the SKU could be sold, in [0, 1], labelled as ``history``. The demand of a
        period without any is unknown; that of a part stays as it was seen, see ``known_factors``.

    Raises
    ------
    DemandTableError
        With the row and column of the first fault.
    """
    _check_axes(history)
    periods = history.index.to_timestamp() if isinstance(history.index, pd.PeriodIndex) else history.index
    units = numbers_of(history, what=message("demand"))
    _refuse(history, np.isinf(units) | (units < 0), units, message("demand must be finite and >= 0"))
    if available is not None:
        units = np.where(_availability(available, history) > 0, units, np.nan)
    return Demand(history.columns, periods, np.ascontiguousarray(units.T))


def orders_of(orders: pd.DataFrame, history: pd.DataFrame, demand: Demand) -> FloatArray:
    """Check how many orders the demand of each period came from, and return it, (n, T); NaN where demand is unknown.

    Raises
    ------
    DemandTableError
        With the row and column of the first fault.
    """
    if not (orders.index.equals(history.index) and orders.columns.equals(history.columns)):
        raise DemandTableError("orders must have the rows and columns of the history, in the same order")
    count = numbers_of(orders, what=message("a number of orders"))
    is_whole = np.isfinite(count) & (count >= 0) & (count == np.rint(count))
    is_known = ~np.isnan(demand.units.T)
    _refuse(orders, is_known & ~is_whole, count, message("a number of orders must be whole and >= 0"))
    _refuse(orders, is_known & ((demand.units.T > 0) != (count > 0)), count, message("orders must be where demand is"))
    return np.ascontiguousarray(np.where(is_known, count, np.nan).T)


def _availability(available: pd.DataFrame, history: pd.DataFrame) -> FloatArray:
    if not (available.index.equals(history.index) and available.columns.equals(history.columns)):
        raise DemandTableError("available must have the rows and columns of the history, in the same order")
    share = numbers_of(available, what=message("availability"))
    _refuse(available, ~((share >= 0) & (share <= 1)), share, message("availability must be a share in [0, 1]"))
    return share


def _check_axes(history: pd.DataFrame) -> None:
    if history.shape[0] == 0 or history.shape[1] == 0:
        raise DemandTableError(
            "a history needs at least one period and one SKU; got shape {shape!s}", shape=history.shape
        )
    if not history.columns.is_unique:
        raise DemandTableError("column {column!r} occurs twice", column=_first_twice(history.columns))
    if not history.index.is_unique:
        raise DemandTableError("row {row!r} occurs twice", row=_first_twice(history.index))
    if history.index.hasnans:
        raise DemandTableError("row {at} has no period", at=int(np.argmax(history.index.isna())))
    if not history.index.is_monotonic_increasing:
        position = int(np.argmax(np.asarray(history.index[1:] < history.index[:-1]))) + 1
        row = history.index[position]
        before = history.index[position - 1]
        raise DemandTableError("periods must ascend; row {row!r} comes after {before!r}", row=row, before=before)


def _first_twice(axis: pd.Index) -> object:
    return axis[axis.duplicated()][0]


def numbers_of(frame: pd.DataFrame, *, what: Message) -> FloatArray:
    """Return the values as floats, or name the first cell that is no number; text is none, whatever it says."""
    for column in frame.columns[[not is_numeric_dtype(dtype) for dtype in frame.dtypes]]:
        for row, value in frame[column].items():
            if not (isinstance(value, int | float | np.number) or value is None or value is pd.NA):
                raise DemandTableError(
                    "{what} must be a number; got {value!r} at row {row!r}, column {column!r}",
                    what=what,
                    value=value,
                    row=row,
                    column=column,
                )
    return frame.to_numpy(dtype=float, na_value=np.nan)


def _refuse(frame: pd.DataFrame, is_bad: NDArray[np.bool_], values: FloatArray, rule: Message) -> None:
    if is_bad.any():
        i, j = np.argwhere(is_bad)[0]
        row, column = frame.index[i], frame.columns[j]
        raise DemandTableError(
            "{rule}; got {value} at row {row!r}, column {column!r}",
            rule=rule,
            value=values[i, j],
            row=row,
            column=column,
        )
