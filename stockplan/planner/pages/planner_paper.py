"""Run card and week as PDF, to print and hang up beside a line."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from inventory.selectors.changeover_steps import TickRow
from inventory.wording import number
from stockplan.paper.documents import Document
from stockplan.planner.pages.paper import pdf_answer
from stockplan.planner.pages.site import working_page
from stockplan.planner.pages.week import ALL_LINES, CAUTION, week_shown
from stockplan.planner.selectors.line_orders import LineRun, line_orders
from stockplan.planner.selectors.run_card import RunCard, RunNotKnownError, run_card
from stockplan.planner.templatetags.planner_pages import kilograms, minutes, moment, moment_after, percent
from stockplan.planner.wording import said

Row = tuple[str, ...]


@require_safe
@working_page("planner.view_makelist")
def week(request: HttpRequest) -> HttpResponse:
    """Give one week of the lines, a sheet each; `?week=` and `?line=` choose as on its page."""
    orders = line_orders()
    found = week_shown(orders, week=request.GET.get("week", ""), line=request.GET.get("line", ALL_LINES))
    if not found.lines:
        raise Http404(_("No line has a run in this week."))
    listed = _("Runs without a number are not released: they are from the list of %(at)s.")
    notes = [listed % {"at": moment(orders.as_of)}] if orders.as_of else []
    notes.append(str(CAUTION))
    sheets = [
        Document(
            title=_("Line %(line)s, week %(week)s") % {"line": line, "week": found.week},
            notes=notes,
            heads=(
                _("Place"),
                _("Filament"),
                _("Resin into the hopper"),
                _("Start - end"),
                _("Changeover"),
                _("Spools"),
                _("On the shelf"),
                _("Done"),
            ),
            rows=[_week_row(run) for run in runs],
            widths_mm=(16, 56, 38, 38, 37, 34, 32, 16),
        )
        for line, runs in found.lines
    ]
    return pdf_answer(*sheets, name=f"week-{found.week}")


def _week_row(run: LineRun) -> Row:
    hopper = f"{run.hopper_code}, {_together(moment(run.drying_from))}" if run.hopper_code else ""
    change = " ".join(filter(None, (run.changeover_from_code, _together(minutes(run.changeover_min)))))
    sizes = ", ".join(_together(f"{spools} x {kilograms(net_g)}") for net_g, spools in run.spools_by_net_g)
    name = f"{run.material_name} {run.colour_name} {_mm(run.diameter_mm, 2)}"
    times = f"{_together(moment(run.start))} - {_together(moment_after(run.end, run.start))}"
    place = str(run.place) if run.place else _("under way")
    shelf = _together(moment(run.shelf_at))
    return (place, " ".join(filter(None, (name, run.run_code))), hopper, times, change, sizes, shelf, "")


def _together(text: str) -> str:
    """Keep a text on one line of its cell: a number that is parted from its unit is misread."""
    return text.replace(" ", "\N{NO-BREAK SPACE}")


@require_safe
@working_page("inventory.view_run")
def card(_request: HttpRequest, code: str) -> HttpResponse:
    """Give the card of one run."""
    try:
        shown = run_card(code)
    except RunNotKnownError as error:
        raise Http404(str(error)) from error
    name = f"{shown.material_name} {shown.colour_name} {_mm(shown.diameter_mm, 2)}"
    times = f"{moment(shown.planned_start)} - {moment_after(shown.planned_end, shown.planned_start)}"
    document = Document(
        title=_("Run %(run)s on line %(line)s: %(name)s")
        % {"run": shown.run_code, "line": shown.line_code, "name": name},
        notes=[
            f"{shown.filament_code}, {times}.",
            _("Before you touch the machine:"),
            *(f"• {said(caution)}" for caution in shown.cautions),
        ],
        heads=(_("What"), _("Planned"), _("Real")),
        rows=[
            *((*row, "") for row in _card_rows(shown)),
            *_made_rows(shown),
            *_step_rows(shown),
            *((said(one), "", "") for one in shown.sign_offs),
        ],
        widths_mm=(62, 78, 40),
    )
    return pdf_answer(document, name=f"run-{shown.run_code}")


def _card_rows(card: RunCard) -> list[Row]:
    """Return what is planned and not reported for each run."""
    rows: list[Row] = [
        (_("Resin into hopper %(hopper)s") % {"hopper": card.hopper_code or "-"}, moment(card.drying_from)),
        (_("Dry for, at this plant's temperatures"), _("%(hours)s h, %(low)d to %(high)d °C") % _drying(card)),
        (_("Resin %(item)s") % {"item": card.resin_item}, _kg(card.resin_kg, 1)),
        (_("Change over from %(code)s") % {"code": card.changeover_from_code or "-"}, minutes(card.changeover_min)),
    ]
    if card.concentrate_item:
        dosing = _("%(grams)s g per kg of melt, let-down %(share)s") % {
            "grams": number(card.dosing_g_per_kg, ".1f"),
            "share": percent(card.let_down_share),
        }
        rows.append((_("Concentrate %(item)s") % {"item": card.concentrate_item}, dosing))
    rows.append((_("Diameter"), f"{_mm(card.least_mm, 3)} - {_mm(card.most_mm, 3)}"))
    return rows


def _made_rows(card: RunCard) -> list[Row]:
    """Return what is planned and reported at the finish: empty cells to write in before it."""
    purged = "" if card.real_purge_kg is None else _kg(card.real_purge_kg, 1)
    rows: list[Row] = [(_("Purge"), _kg(card.purge_kg, 1), purged)]
    for size in card.sizes:
        planned = _("%(spools)d, scale %(gross)d g") % {"spools": size.spools, "gross": size.gross_g}
        made = ""
        if size.good is not None:
            made = _("%(good)d good, %(scrap)d scrap") % {"good": size.good, "scrap": size.scrap or 0}
        rows.append((_("Spools of %(net)s") % {"net": kilograms(size.net_g)}, planned, made))
    return rows


def _step_rows(card: RunCard) -> list[Row]:
    """Return the steps of the changeover, each with the tick that stands."""
    return [(row.label, "", _ticked(row.done) if row.done else "") for row in card.steps]


def _ticked(tick: TickRow) -> str:
    return ", ".join(filter(None, (moment(tick.occurred_at), tick.by)))


def _drying(card: RunCard) -> dict[str, object]:
    hours = number(card.resin_dry_hours, ".1f")
    return {"hours": hours, "low": card.resin_dry_min_c, "high": card.resin_dry_max_c}


def _kg(mass_kg: float, places: int) -> str:
    return f"{number(mass_kg, f'.{places}f')} kg"


def _mm(length_mm: float, places: int) -> str:
    return f"{number(length_mm, f'.{places}f')} mm"
