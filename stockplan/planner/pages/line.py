"""The tablet beside a line: what runs, what comes next, and what the floor reports of it."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

from django.contrib import messages
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.models import DiameterReport, RunStop, StepTick
from inventory.rules.clock import Clock
from inventory.services.changeover_steps import tick_step
from inventory.services.quality import post_diameters
from inventory.services.run_stops import let_run_go_on, stop_run
from inventory.services.runs import finish_run, start_run
from stockplan.access.models import Scope
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import action, may, page, person_of, working_page
from stockplan.planner.pages.typed import (
    Fault,
    TypedError,
    fault_of,
    instant_given,
    number_given,
    numbers_of,
    spools_given,
)
from stockplan.planner.pages.working_pages import page_by_route
from stockplan.planner.selectors.line_board import LineBoard, LineNotFoundError, line_board, line_codes
from stockplan.planner.selectors.run_card import RunCard

MOST_SPOOLS = 100_000
SEES = "inventory.view_run"


@require_safe
@working_page(SEES)
def lines(request: HttpRequest) -> HttpResponse:
    """Let the floor choose the line beside which the tablet hangs."""
    return page(request, "planner/line_choice.html", about=page_by_route("pages:line-choice"), codes=line_codes())


@require_safe
@working_page(SEES)
def line(request: HttpRequest, code: str) -> HttpResponse:
    """Show one line."""
    return _show(request, _board_or_404(code))


@takes_form
@action(Scope.FLOOR, sees=SEES)
def start(request: HttpRequest, code: str) -> HttpResponse:
    """Start the run that comes next, once its cautions were read."""

    def write(posted: QueryDict, by: User) -> str:
        card = _as_shown(_board_or_404(code).upcoming, posted)
        if posted.get("cautions") != "read":
            raise TypedError(_("read the cautions and tick the box under them first."), field="cautions")
        start_run(
            run_code=card.run_code,
            clock=Clock.at(timezone.now()),
            drying_from=instant_given(posted, "drying from"),
            posted_by=by,
        )
        return _("Run %(run)s is started.") % {"run": card.run_code}

    return _report(request, code, write)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def diameters(request: HttpRequest, code: str) -> HttpResponse:
    """Post readings of the strand of the run under way."""

    def write(posted: QueryDict, by: User) -> str:
        card = _as_shown(_board_or_404(code).current, posted)
        readings = numbers_of("diameters", posted.get("diameters", ""))
        post_diameters(
            run_code=card.run_code,
            readings=[(reading, None) for reading in readings],
            source=DiameterReport.Source.HAND,
            clock=Clock.at(timezone.now()),
            posted_by=by,
        )
        outside = sum(not card.least_mm <= float(reading) <= card.most_mm for reading in readings)
        if outside:
            said = ngettext(
                "%(n)d reading is posted, %(outside)d of them outside: the spools of this run will be held.",
                "%(n)d readings are posted, %(outside)d of them outside: the spools of this run will be held.",
                len(readings),
            )
            return said % {"n": len(readings), "outside": outside}
        said = ngettext("%(n)d reading is posted, all inside.", "%(n)d readings are posted, all inside.", len(readings))
        return said % {"n": len(readings)}

    return _report(request, code, write)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def stop(request: HttpRequest, code: str) -> HttpResponse:
    """Note that the line stands still, and why."""

    def write(posted: QueryDict, by: User) -> str:
        card = _as_shown(_board_or_404(code).current, posted)
        reason, note = posted.get("reason", ""), posted.get("note", "")
        stop_run(run_code=card.run_code, reason=reason, note=note, clock=Clock.at(timezone.now()), posted_by=by)
        return _("The stop of %(run)s is noted.") % {"run": card.run_code}

    return _report(request, code, write)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def go_on(request: HttpRequest, code: str) -> HttpResponse:
    """Note that the line goes on."""

    def write(posted: QueryDict, _by: User) -> str:
        card = _as_shown(_board_or_404(code).current, posted)
        let_run_go_on(run_code=card.run_code, clock=Clock.at(timezone.now()))
        return _("%(run)s goes on.") % {"run": card.run_code}

    return _report(request, code, write)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def steps(request: HttpRequest, code: str) -> HttpResponse:
    """Tick a step of the changeover of the run under way or of the next one, or take its tick back."""
    run_code = request.POST.get("run", "")

    def write(posted: QueryDict, by: User) -> str:
        board = _board_or_404(code)
        shown = next((one for one in (board.current, board.upcoming) if one and one.run_code == run_code), None)
        card = _as_shown(shown, posted)
        is_done = "done" in posted
        step = posted.get("done" if is_done else "back", "")
        tick_step(run_code=card.run_code, step=step, is_done=is_done, clock=Clock.at(timezone.now()), posted_by=by)
        said = _("Ticked for %(run)s: %(step)s.") if is_done else _("Taken back for %(run)s: %(step)s.")
        return said % {"run": card.run_code, "step": StepTick.Step(step).label}

    return _report(request, code, write, at=f"#steps-{run_code}")


@takes_form
@action(Scope.FLOOR, sees=SEES)
def finish(request: HttpRequest, code: str) -> HttpResponse:
    """Finish the run under way with what came of it."""

    def write(posted: QueryDict, by: User) -> str:
        card = _as_shown(_board_or_404(code).current, posted)
        most = {size.sku_code: MOST_SPOOLS for size in card.sizes}
        finished = finish_run(
            run_code=card.run_code,
            good=spools_given(posted, prefix="good ", most=most),
            scrap=spools_given(posted, prefix="scrap ", most=most),
            real_minutes=_needed(posted, "real minutes"),
            purge_kg=_needed(posted, "purge kg"),
            resin_kg=number_given(posted, "resin kg"),
            concentrate_kg=number_given(posted, "concentrate kg"),
            clock=Clock.at(timezone.now()),
            posted_by=by,
        )
        said = _("Run %(run)s is finished; its spools wait for the oven.") % {"run": card.run_code}
        if finished.is_mass_flagged:
            said += " " + _("What went in and what came out differ: the planner will ask.")
        return said

    return _report(request, code, write)


def _report(request: HttpRequest, code: str, write: Callable[[QueryDict, User], str], *, at: str = "") -> HttpResponse:
    """Write what the floor reports, and lead back to the place `at` of the page; a fault is told on the page, which
    keeps what was typed.
    """
    try:
        said = write(request.POST, person_of(request))
    except (BooksError, TypedError) as error:
        fault = fault_of(error)
        messages.error(request, _("Nothing was written: %(why)s") % {"why": fault.why})
        # What was typed of one run is not offered for another.
        typed = None if isinstance(error, PageTooOldError) else request.POST
        return _show(request, _board_or_404(code), typed=typed, fault=fault, status=422)
    messages.success(request, said)
    return redirect(reverse("pages:line", args=[code]) + at)


def _needed(posted: QueryDict, name: str) -> Decimal:
    number = number_given(posted, name)
    if number is None:
        raise TypedError(_("%(name)s: it is needed, 0 if there was none.") % {"name": _(name)}, field=name)
    return number


class PageTooOldError(TypedError):
    """Another run stands where the page showed the one that is reported of."""


def _as_shown(card: RunCard | None, posted: QueryDict) -> RunCard:
    """Return the run, if it is the one of which the page showed the form."""
    if card is None or card.run_code != posted.get("run"):
        raise PageTooOldError(_("the line went on since this page was opened. It now shows what stands there."))
    return card


def _board_or_404(code: str) -> LineBoard:
    try:
        return line_board(code)
    except LineNotFoundError as error:
        raise Http404(str(error)) from error


def _show(
    request: HttpRequest,
    board: LineBoard,
    *,
    typed: QueryDict | None = None,
    fault: Fault | None = None,
    status: int = 200,
) -> HttpResponse:
    now = timezone.now()
    so_far = round((now - board.started_at).total_seconds() / 60) if board.started_at else None
    return page(
        request,
        "planner/line.html",
        status=status,
        title=f"{board.code} {board.name}",
        board=board,
        typed=typed or {},
        fault=fault,
        reasons=RunStop.Reason.choices,
        minutes=typed.get("real minutes", "") if typed else so_far,
        is_dry=board.dry_at is None or board.dry_at <= now,
        may_report=may(request.user, Scope.FLOOR),
    )
