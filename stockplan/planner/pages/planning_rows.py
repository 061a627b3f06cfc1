"""Rows of what the planner compares and announces, for CSV."""

from __future__ import annotations

from collections.abc import Iterator

from django.http import Http404, HttpRequest
from django.utils import timezone

from stockplan.planner.core.learning import Estimate
from stockplan.planner.core.whatif import Change
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.table_rows import at_minute, newest_or_404
from stockplan.planner.pages.what_if_form import TITLES, WhatIfForm
from stockplan.planner.selectors.announcements import announcements_at
from stockplan.planner.selectors.list_changes import changes_since
from stockplan.planner.selectors.purchases import newest_advice
from stockplan.planner.services.floor_learning import learned_figures
from stockplan.planner.services.what_if import what_if
from stockplan.planner.wording import said

Row = tuple[object, ...]

PURCHASES = (
    "buy_by", "item", "name", "buy", "packs", "unit", "on_hand", "expected_need", "would_run_out_on", "late_days",
)  # fmt: skip
CHANGES = ("list_before", "what", "since_then", "why")
LEARNED = ("line", "figure", "from", "to", "entered", "learned", "give_or_take", "runs")
TRIED = ("rank", "filament", "line", "start", "end", "spools", "sizes", "misses_avoided", "worth_per_hour", "reason")
ANNOUNCED = ("name", "of_what", "first_day", "last_day", "times_the_usual", "skus")


def changes(_request: HttpRequest) -> Iterator[Row]:
    """Runs that differ from the list before."""
    since, found = changes_since(newest_or_404())
    for change in found:
        why = said(change.why) if change.why else ""
        yield (at_minute(since), said(change.what), said(change.since), why)


def tried(request: HttpRequest) -> Iterator[Row]:
    """The newest list with the change that `?change=` and the fields of its form name, computed anew."""
    try:
        found = what_if([_change(request)], now=timezone.now())
    except PlanningError as error:
        raise Http404(str(error)) from error
    for run in found.runs:
        sizes = " + ".join(f"{size.spools} x {size.sku}" for size in run.sizes)
        spools = (sum(size.spools for size in run.sizes), sizes)
        worth = (round(run.misses_avoided, 2), round(run.worth_per_hour, 3), said(run.reason))
        yield (run.rank, run.filament, run.line, at_minute(run.start), at_minute(run.end), *spools, *worth)


def purchases(_request: HttpRequest) -> Iterator[Row]:
    """What to buy, as it was last computed."""
    advice = newest_advice()
    for purchase in advice.purchases if advice else ():
        amounts = (round(purchase.quantity, 3), purchase.packs or "", purchase.unit, round(purchase.on_hand, 3))
        need = (round(purchase.expected_need, 3), purchase.runs_out_on, purchase.late_days)
        yield (purchase.buy_by, purchase.item, purchase.name, *amounts, *need)


def learned(_request: HttpRequest) -> Iterator[Row]:
    """What finished runs say of each line."""
    for code, line in learned_figures(as_of=timezone.now()).items():
        yield (code, "winding_share_of_planned", "", "", *_figures(line.winding_factor))
        yield (code, "scrap_share", "", "", *_figures(line.scrap_share))
        for (before, after), minutes in line.changeovers.items():
            yield (code, "changeover_min", before, after, *_figures(minutes))


def announced(_request: HttpRequest) -> Iterator[Row]:
    """What is announced, past and to come."""
    for one in announcements_at(timezone.now()):
        yield (one.name, one.scope, one.first_day, one.last_day, one.factor, len(one.sku_ids))


def _figures(one: Estimate) -> Row:
    return round(one.entered, 4), round(one.learned, 4), round(one.spread, 4), one.runs


def _change(request: HttpRequest) -> Change:
    change = request.GET.get("change", "")
    if change not in TITLES:
        raise Http404(f"Name the change: ?change=, one of {', '.join(TITLES)}.")
    form = WhatIfForm(request.GET, change=change)
    if not form.is_valid():
        raise Http404(form.errors.as_text())
    return form.made()
