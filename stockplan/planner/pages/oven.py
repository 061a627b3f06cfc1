"""Oven and packing: what goes in tonight, what is dry, what goes onto the shelf."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.rules.clock import Clock
from inventory.selectors.carts import carts
from inventory.selectors.finishing import FinishingBoard, FinishingRow, OvenBoard, finishing_board
from inventory.services.ovens import load_oven, unload_oven
from inventory.services.packing import pack
from inventory.wording import in_words
from stockplan.access.models import Scope
from stockplan.planner.core.cautions import OVEN_CAUTIONS
from stockplan.planner.core.oven_fill import OvenRoom, WoundSpools, fill_ovens
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import action, may, page, person_of, working_page
from stockplan.planner.pages.typed import TypedError, spools_given
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.templatetags.planner_pages import moment

SEES = "inventory.view_ovenload"
# Lots that are not meant for an oven and suit it are begun there; `?oven=` lists all of them.
OTHERS_BEGUN = 8

Loads = list[tuple[FinishingRow, int]]


@require_safe
@working_page(SEES)
def ovens(request: HttpRequest) -> HttpResponse:
    """Show everything between line and shelf."""
    return _show(request)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def load(request: HttpRequest, code: str) -> HttpResponse:
    """Load an oven with the spools typed in."""
    try:
        spools = _spools_typed(request.POST, finishing_board().wound)
        loaded = load_oven(oven_code=code, spools=spools, clock=Clock.at(timezone.now()), posted_by=person_of(request))
    except (BooksError, TypedError) as error:
        return _fault(request, error)
    messages.success(request, _("%(oven)s is loaded; dry at %(at)s.") % {"oven": code, "at": moment(loaded.ready_at)})
    return redirect("pages:ovens")


@takes_form
@action(Scope.FLOOR, sees=SEES)
def unload(request: HttpRequest, code: str) -> HttpResponse:
    """Take a dry load out to the packing bench."""
    try:
        unload_oven(oven_code=code, clock=Clock.at(timezone.now()), posted_by=person_of(request))
    except BooksError as error:
        return _fault(request, error)
    messages.success(request, _("%(oven)s is empty; its spools wait to be packed.") % {"oven": code})
    return redirect("pages:ovens")


@takes_form
@action(Scope.FLOOR, sees=SEES)
def pack_spools(request: HttpRequest) -> HttpResponse:
    """Pack dry spools onto the shelf."""
    try:
        spools = _spools_typed(request.POST, ready(finishing_board()))
        pack(spools=spools, clock=Clock.at(timezone.now()), posted_by=person_of(request))
    except (BooksError, TypedError) as error:
        return _fault(request, error)
    total = sum(count for _lot, _sku, count in spools)
    said = ngettext(
        "%(n)d spool is on the shelf; orders that waited for it are served.",
        "%(n)d spools are on the shelf; orders that waited for them are served.",
        total,
    )
    messages.success(request, said % {"n": total})
    return redirect("pages:ovens")


def ready(board: FinishingBoard) -> list[FinishingRow]:
    """Return what may be packed: the bench, and wound spools that need no drying."""
    return [*board.bench, *(row for row in board.wound if not row.dry_h)]


@dataclass(frozen=True)
class ShelfHour:
    """Spools that are expected on the shelf together; `is_now`: nothing but packing stands before them.

    `at` is None then, and where nobody knows: spools whose run is not in the books.
    """

    at: datetime | None
    is_now: bool
    spools: int
    needed: int
    names: tuple[str, ...]


def shelf_hours(board: FinishingBoard) -> list[ShelfHour]:
    """Return what reaches the shelf by hour: what may be packed at once first, what has no hour last."""
    by_hour: defaultdict[datetime | None, list[FinishingRow]] = defaultdict(list)
    waiting = [row for row in board.wound if row.dry_h]
    for row in (*waiting, *(row for oven in board.ovens for row in oven.rows)):
        by_hour[row.shelf_at].append(row)
    known = sorted(at for at in by_hour if at is not None)
    hours = [_shelf_hour(ready(board), at=None, is_now=True)]
    hours += [_shelf_hour(by_hour[at], at=at) for at in (*known, None)]
    return [hour for hour in hours if hour.spools]


def _shelf_hour(rows: Sequence[FinishingRow], *, at: datetime | None, is_now: bool = False) -> ShelfHour:
    return ShelfHour(at, is_now, sum(row.spools for row in rows), sum(row.needed for row in rows), _names(rows))


def _names(rows: Sequence[FinishingRow]) -> tuple[str, ...]:
    return tuple(sorted({row.sku_name for row in rows}))


def tonight(board: FinishingBoard) -> list[tuple[OvenBoard, Loads]]:
    """Return for each empty oven the lots that suit it, with the spools to load: those that stand on no cart."""
    rows = [row for row in board.wound if row.dry_h and row.loose]
    empty = [oven for oven in board.ovens if oven.ready_at is None]
    waiting = [
        WoundSpools(
            row.lot_code, row.loose, min(row.needed, row.loose), row.due_day, row.places_each, row.low_c, row.high_c
        )
        for row in rows
    ]
    load_of = fill_ovens(waiting, [OvenRoom(oven.code, oven.places, oven.temperature_c) for oven in empty])
    return [
        (
            oven,
            [
                (row, load_of.get((oven.code, row.lot_code), 0))
                for row in rows
                if row.low_c <= oven.temperature_c <= row.high_c
            ],
        )
        for oven in empty
    ]


def _begun(loads: Loads) -> Loads:
    """Return the lots that go into an oven, and the first of the others."""
    others = [load for load in loads if not load[1]]
    return [*(load for load in loads if load[1]), *others[:OTHERS_BEGUN]]


def _spools_typed(posted: QueryDict, rows: Sequence[FinishingRow]) -> list[tuple[str | None, str, int]]:
    sku_of = {row.lot_code: row.sku_code for row in rows}
    given = spools_given(posted, prefix="spools ", most={row.lot_code: row.loose for row in rows})
    if not given:
        raise TypedError(_("no spools are typed in."))
    return [(lot, sku_of[lot], spools) for lot, spools in given.items()]


def _fault(request: HttpRequest, error: Exception) -> HttpResponse:
    messages.error(request, _("Nothing was written: %(why)s") % {"why": in_words(error)})
    return _show(request, status=422)


def _show(request: HttpRequest, *, status: int = 200) -> HttpResponse:
    board, all_carts, asked = finishing_board(), carts(), request.GET.get("oven", "")
    loads = [(oven, all_, all_ if oven.code == asked else _begun(all_)) for oven, all_ in tonight(board)]
    return page(
        request,
        "planner/ovens.html",
        status=status,
        about=page_by_route("pages:ovens"),
        board=board,
        tonight=loads,
        to_pack=[row for row in ready(board) if row.loose],
        hours=shelf_hours(board),
        in_use=[cart for cart in all_carts if cart.rows],
        carts_waiting=[cart for cart in all_carts if cart.rows and not cart.load_code],
        carts_out=[cart for cart in all_carts if cart.rows and cart.is_out],
        empty_carts=[cart for cart in all_carts if not cart.rows],
        now=timezone.now(),
        cautions=OVEN_CAUTIONS,
        may_report=may(request.user, Scope.FLOOR),
    )
