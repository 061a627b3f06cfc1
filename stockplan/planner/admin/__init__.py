"""The planner's records in the admin: what was computed is read only; instructions are given on the working pages."""

from stockplan.planner.admin import forecasts, instructions, make_lists

__all__ = ["forecasts", "instructions", "make_lists"]
