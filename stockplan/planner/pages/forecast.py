"""The forecast as a whole: does it beat plain methods, and does its 95 % mean 95 %?"""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from stockplan.planner.pages.pictures import calibration_picture
from stockplan.planner.pages.site import page, working_page
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.selectors.forecast_health import forecast_health


@require_safe
@working_page("planner.view_skuforecast")
def health(request: HttpRequest) -> HttpResponse:
    """Show the backtest of the newest forecast by class of demand."""
    shown = forecast_health()
    return page(
        request,
        "planner/forecast.html",
        about=page_by_route("pages:forecast"),
        health=shown,
        calibration=calibration_picture(shown) if shown and shown.overall else None,
    )
