"""The page of one SKU: what is expected of it and what the shelf will look like."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from stockplan.planner.pages.pictures import fan_picture, history_picture, tenths_picture
from stockplan.planner.pages.site import page, working_page
from stockplan.planner.selectors.announcements import announced_for
from stockplan.planner.selectors.make_lists import MakeListNotFoundError, newest_list_id
from stockplan.planner.selectors.projection import Projection, projected_stock
from stockplan.planner.selectors.sku_records import SkuNotFoundError, sku_record

HISTORY_WEEKS = 52


@require_safe
@working_page("planner.view_skuforecast")
def sku(request: HttpRequest, code: str) -> HttpResponse:
    """Show forecast, target, projected shelf and history of one SKU."""
    try:
        record = sku_record(code, today=timezone.localdate(), weeks=HISTORY_WEEKS)
    except SkuNotFoundError as error:
        raise Http404(str(error)) from error
    return page(
        request,
        "planner/sku.html",
        title=record.name,
        sku=record,
        announced=announced_for(code, as_of=timezone.now(), today=timezone.localdate()),
        projection=(projection := _projection(code)),
        fan=fan_picture(projection) if projection else None,
        history=history_picture(record.history),
        tenths=tenths_picture(record.forecast.track) if record.forecast and record.forecast.track else None,
    )


def _projection(code: str) -> Projection | None:
    list_id = newest_list_id()
    if list_id is None:
        return None
    try:
        return projected_stock(code, list_id)
    except MakeListNotFoundError:
        # The SKU is younger than the list.
        return None
