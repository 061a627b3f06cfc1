"""What the make list and plain rules would have come to on past days, and what more or less stock would have bought."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from stockplan.planner.pages.pictures import Picture
from stockplan.planner.pages.site import page, page_by_route, working_page
from stockplan.planner.selectors.stored_replays import PastReplay, comparable_curves, past_replays
from stockplan.planner.templatetags.planner_pages import percent


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


def exchange_picture(curves: Sequence[PastReplay]) -> Picture:
    """Lines of the share of orders kept over the mean value of the shelf, one a policy."""
    words = _("Share of orders complete on their due day against the mean value of the shelf.")
    for curve in curves:
        best = max(curve.rows, key=lambda row: row.totals.orders.share or 0.0)
        words += " " + _("%(policy)s: at most %(share)s, at a shelf of %(value)d.") % {
            "policy": curve.policy,
            "share": percent(best.totals.orders.share),
            "value": round(best.totals.mean_stock_value),
        }
    return Picture(
        words=words,
        drawn={
            "lines": [{"name": curve.policy, "points": _points(curve)} for curve in curves],
            "names": {"x": _("mean value of the shelf"), "y": _("orders complete, %")},
        },
    )


def _points(curve: PastReplay) -> list[list[float]]:
    shares = ((row.totals.mean_stock_value, row.totals.orders.share) for row in curve.rows)
    return [[round(value), round(100 * share, 2)] for value, share in shares if share is not None]
