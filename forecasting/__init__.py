"""Demand forecasting for sporadic demand: levels, spread, choice and stock targets. No Django, no clock."""

from forecasting.distribution import NegativeBinomial
from forecasting.errors import ForecastingError
from forecasting.predict import forecast
from forecasting.result import DemandForecast

__all__ = ["DemandForecast", "ForecastingError", "NegativeBinomial", "forecast"]
