"""The owner's page: is the promise kept, why not, what the shelf ties up, how the lines spend their hours."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.core.paginator import Page, Paginator
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from inventory.rules.service import Miss
from inventory.selectors.plant import parameters
from inventory.selectors.run_stops import StopRow, hours_lost, stops_between
from inventory.selectors.service import service_report
from inventory.selectors.service_weeks import service_history
from inventory.selectors.skus import sku_cards
from inventory.selectors.stock_value import lasts_days, stock_value
from stockplan.planner.models import ListedRun
from stockplan.planner.pages.pictures import exchange_picture, service_picture
from stockplan.planner.pages.site import page, working_page
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.selectors.forecast_health import overall_health
from stockplan.planner.selectors.line_load import line_loads
from stockplan.planner.selectors.list_pages import purchase_days
from stockplan.planner.selectors.make_lists import listed_runs, newest_list_id, run_details
from stockplan.planner.selectors.purchases import newest_advice
from stockplan.planner.selectors.stored_replays import comparable_curves, past_replays

WEEKS = 8
ROWS_SHOWN = 15
PURCHASES_SHOWN = 40
ROWS_PER_PAGE = 100
# Only the owner changes these; the page is for whoever answers for the plant.
SEES = "inventory.change_plantparameters"
STOCKED, MADE_TO_ORDER = "stocked", "made_to_order"
SHELF_PARTS = {"dead": gettext_lazy("Dead"), "slow": gettext_lazy("Slow")}


@dataclass(frozen=True)
class SkuMisses:
    """What was missed of one SKU in the weeks shown."""

    sku_code: str
    lines: int
    spools: int


@require_safe
@working_page(SEES)
def owner(request: HttpRequest) -> HttpResponse:
    """Show the promise of the last weeks, misses by reason and SKU, stock, line hours and what is to be bought."""
    now, today = timezone.now(), timezone.localdate()
    history = service_history(first_monday=first_monday(today), weeks=WEEKS, as_of=now)
    by_sku, curves, advice = misses_by_sku(history.report.misses), comparable_curves(past_replays()), newest_advice()
    shelf = stock_value(today=today)
    value = sum(row.value for row in shelf)
    here = (float(value), history.report.stocked.orders.share)
    currency = parameters().currency
    return page(
        request,
        "planner/owner.html",
        about=page_by_route("pages:owner"),
        weeks=history.weeks,
        service=service_picture(history.weeks),
        report=history.report,
        by_sku=by_sku[:ROWS_SHOWN],
        cards=sku_cards([row.sku_code for row in by_sku[:ROWS_SHOWN]]),
        skus_missed=len(by_sku),
        shelf_value=value,
        currency=currency,
        shelf_spools=sum(row.on_shelf for row in shelf),
        lasts_days=lasts_days(shelf),
        curves=curves,
        exchange=exchange_picture(curves, currency=currency, today=here) if curves else None,
        loads=line_loads(),
        lost=hours_lost(stops_of(now), first=stops_from(now), until=now),
        forecast=overall_health(),
        advice=advice,
        to_buy=advice.purchases[:PURCHASES_SHOWN] if advice else (),
        purchases=purchase_days(),
    )


@require_safe
@working_page(SEES)
def misses(request: HttpRequest) -> HttpResponse:
    """Show the missed lines, those that `?kind=`, `?reason=`, `?sku=` or `?week=` (its Monday) name."""
    rows = wanted_misses(request)
    found = Paginator(rows, ROWS_PER_PAGE).get_page(request.GET.get("page"))
    return page(
        request,
        "planner/owner_misses.html",
        title=_("Missed lines"),
        found=found,
        spools=sum(miss.missed for miss in rows),
        orders=len({miss.order_id for miss in rows}),
        cards=sku_cards({miss.sku_code for miss in found}),
    )


@require_safe
@working_page(SEES)
def stops(request: HttpRequest) -> HttpResponse:
    """Show the stops of the lines, those that `?reason=` names."""
    now, reason = timezone.now(), request.GET.get("reason", "")
    rows = [stop for stop in stops_of(now) if reason in {"", stop.reason}]
    timed = [(stop, stop.hours(first=stops_from(now), until=now)) for stop in reversed(rows)]
    found = Paginator(timed, ROWS_PER_PAGE).get_page(request.GET.get("page"))
    hours = sum(hours for _stop, hours in timed)
    return page(request, "planner/owner_stops.html", title=_("Stops of the lines"), found=found, hours=hours)


@require_safe
@working_page(SEES)
def line_hours(request: HttpRequest) -> HttpResponse:
    """Show the runs of the newest list that make up the hours of the line that `?line=` names, or of all lines."""
    line, newest = request.GET.get("line", ""), newest_list_id()
    loads = [load for load in line_loads() if line in {"", load.line_code}]
    runs = listed_runs(newest).filter(line__isnull=False) if newest else ListedRun.objects.none()
    wanted = (runs.filter(line__code=line) if line else runs).order_by("line__code", "place_on_line")
    found: Page[Any] = Paginator(wanted, ROWS_PER_PAGE).get_page(request.GET.get("page"))
    found.object_list = run_details(found.object_list)
    return page(request, "planner/owner_lines.html", title=_("Hours of the lines"), loads=loads, found=found)


@require_safe
@working_page(SEES)
def shelf(request: HttpRequest) -> HttpResponse:
    """Show what lies on the shelf, what of it is dead or slow, the most valuable first."""
    rows = stock_value(today=timezone.localdate())
    asked = request.GET.get("show", "")
    wanted = {"dead": [row for row in rows if row.is_dead], "slow": [row for row in rows if row.is_slow]}
    groups = [("", _("All of the shelf"), rows), *((name, str(SHELF_PARTS[name]), wanted[name]) for name in wanted)]
    return page(
        request,
        "planner/owner_shelf.html",
        title=_("What the shelf ties up"),
        asked=asked,
        groups=[(name, label, len(some), sum(row.value for row in some)) for name, label, some in groups],
        lasts_days=lasts_days(rows),
        currency=parameters().currency,
        found=Paginator(wanted.get(asked, rows), ROWS_PER_PAGE).get_page(request.GET.get("page")),
    )


def misses_by_sku(missed: Iterable[Miss]) -> list[SkuMisses]:
    """Return what was missed by SKU, the most spools first."""
    lines: defaultdict[str, int] = defaultdict(int)
    spools: defaultdict[str, int] = defaultdict(int)
    for miss in missed:
        lines[miss.sku_code] += 1
        spools[miss.sku_code] += miss.missed
    rows = [SkuMisses(code, lines[code], spools[code]) for code in lines]
    return sorted(rows, key=lambda row: (-row.spools, row.sku_code))


def wanted_misses(request: HttpRequest) -> list[Miss]:
    """Return the misses of the weeks shown that a request asks for, the latest first."""
    today, asked = timezone.localdate(), request.GET
    report = service_report(first=first_monday(today), last=today, as_of=timezone.now())
    return [
        miss
        for miss in reversed(report.misses)
        if asked.get("kind", "") in {"", MADE_TO_ORDER if miss.is_made_to_order else STOCKED}
        and asked.get("reason", "") in {"", miss.reason}
        and asked.get("sku", "") in {"", miss.sku_code}
        and asked.get("week", "") in {"", (miss.day - timedelta(days=miss.day.weekday())).isoformat()}
    ]


def first_monday(today: date) -> date:
    """Return the Monday with which the weeks shown begin."""
    return today - timedelta(days=today.weekday(), weeks=WEEKS - 1)


def stops_from(now: datetime) -> datetime:
    """Return the instant from which stops are shown."""
    return now - timedelta(weeks=WEEKS)


def stops_of(now: datetime) -> list[StopRow]:
    """Return the stops of the weeks shown."""
    return stops_between(stops_from(now), now)
