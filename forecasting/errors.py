"""Errors of the forecasting library. Every message says what is wrong, what is allowed and where."""

from __future__ import annotations


class ForecastingError(ValueError):
    """The input of a forecast breaks a rule; the message names the row and column."""


class DemandTableError(ForecastingError):
    """The table of history is not a demand table.

    Attributes
    ----------
    row, column : object
        Label of the offending row and column, None where the fault belongs to the whole axis.
    """

    def __init__(self, message: str, *, row: object = None, column: object = None) -> None:
        super().__init__(message)
        self.row = row
        self.column = column


class AttributeTableError(ForecastingError):
    """The table of attributes does not describe the SKUs of the history."""


class HorizonError(ForecastingError):
    """Horizons, risk periods or the calendar of the coming periods are not usable."""


class ParameterError(ForecastingError):
    """A constant of a method, a probability or a target is outside its range."""
