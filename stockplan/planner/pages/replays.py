"""What the make list and plain rules would have come to on past days, and what more or less stock would have bought."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from stockplan.planner.pages.pictures import exchange_picture
from stockplan.planner.pages.site import page, page_by_route, working_page
from stockplan.planner.selectors.stored_replays import comparable_curves, past_replays


@require_safe
@working_page("planner.view_makelist")
def replays(request: HttpRequest) -> HttpResponse:
    """Show the newest replays as tables, and their exchange curves as a chart."""
    found = past_replays()
    curves = comparable_curves(found)
    return page(
        request,
        "planner/replays.html",
        about=page_by_route("pages:replays"),
        replays=found,
        exchange=exchange_picture(curves) if curves else None,
    )
