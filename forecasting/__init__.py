"""Demand forecasting for sporadic demand: levels, spread, choice and stock targets. No Django, no clock."""

from forecasting.distribution import NegativeBinomial
from forecasting.errors import ForecastingError
from forecasting.exact import SummedDemand, demand_of_days
from forecasting.predict import forecast
from forecasting.result import DemandForecast
from forecasting.states import DemandStates, fit_states

__all__ = [
    "DemandForecast",
    "DemandStates",
    "ForecastingError",
    "NegativeBinomial",
    "SummedDemand",
    "demand_of_days",
    "fit_states",
    "forecast",
]
