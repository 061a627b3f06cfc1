"""Errors of the forecasting library."""

from __future__ import annotations


class ForecastingError(ValueError):
    """The input of a forecast breaks a rule; the message names the row and column."""
