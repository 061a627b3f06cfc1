"""Errors of the forecasting library. Every message says what is wrong, what is allowed and where."""

from __future__ import annotations

from typing import Any

from forecasting.messages import Message


class ForecastingError(ValueError):
    """The input of a forecast breaks a rule; the message names the row and column.

    Parameters
    ----------
    template
        What is wrong, a literal with fields for the values, as of `forecasting.messages.message`.
    values
        Of the fields; names of arguments and periods as one would have to write them.

    Attributes
    ----------
    said : Message
        What is wrong, to be put into another language; `str` says it in English.
    """

    def __init__(self, template: str, /, **values: Any) -> None:
        self.said = Message(template, values)
        super().__init__(str(self.said))


class DemandTableError(ForecastingError):
    """The table of history is not a demand table.

    Attributes
    ----------
    row, column : object
        Label of the offending row and column, None where the fault belongs to the whole axis.
    """

    def __init__(self, template: str, /, *, row: object = None, column: object = None, **values: Any) -> None:
        super().__init__(template, row=row, column=column, **values)
        self.row = row
        self.column = column


class AttributeTableError(ForecastingError):
    """The table of attributes does not describe the SKUs of the history."""


class HorizonError(ForecastingError):
    """Horizons, risk periods or the calendar of the coming periods are not usable."""


class ParameterError(ForecastingError):
    """A constant of a method, a probability or a target is outside its range."""
