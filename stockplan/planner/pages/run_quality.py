"""What was measured of a run, and the file of its gauge as it comes from the line."""

from __future__ import annotations

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from inventory.errors import BooksError
from inventory.models import DiameterReport
from inventory.plant_files.diameters import diameters_of
from inventory.plant_files.faults import PlantFileError
from inventory.rules.clock import Clock
from inventory.selectors.quality import run_quality
from inventory.selectors.run_rows import RunNotFoundError
from inventory.services.ledger import MAX_DOCUMENT_LENGTH
from inventory.services.quality import post_diameters
from inventory.wording import in_words
from stockplan.access.models import Scope
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.pictures import MOST_SUBGROUPS_DRAWN, control_pictures
from stockplan.planner.pages.site import action, may, page, person_of, working_page
from stockplan.planner.pages.typed import TypedError

SEES = "inventory.view_run"
# Some 50 bytes for each of the 20,000 readings that a report may have.
LARGEST_FILE_BYTES = 1_000_000


@require_safe
@working_page(SEES)
def quality(request: HttpRequest, code: str) -> HttpResponse:
    """Show spread, capability, ovality and net mass of one run."""
    return _show(request, code)


@takes_form
@action(Scope.FLOOR, sees=SEES)
def gauge(request: HttpRequest, code: str) -> HttpResponse:
    """Post the readings in the file of a gauge, all of them or none."""
    try:
        file = _file_of(request)
        readings = diameters_of(file.read(), name=file.name or "file")
        judged = post_diameters(
            run_code=code,
            readings=readings,
            source=DiameterReport.Source.GAUGE,
            document=(file.name or "")[:MAX_DOCUMENT_LENGTH],
            clock=Clock.at(timezone.now()),
            posted_by=person_of(request),
        )
    except PlantFileError as error:
        return _show(request, code, status=422, faults=error.faults)
    except (BooksError, TypedError) as error:
        messages.error(request, _("Nothing was written: %(why)s") % {"why": in_words(error)})
        return _show(request, code, status=422)
    words = ngettext("%(n)d reading is posted.", "%(n)d readings are posted.", len(readings)) % {"n": len(readings)}
    if judged.held_lots:
        words += " " + _("Outside the tolerance; on hold now: %(lots)s.") % {"lots": ", ".join(judged.held_lots)}
    messages.success(request, words)
    return redirect("pages:run-quality", code)


def _file_of(request: HttpRequest) -> UploadedFile[bytes]:
    file = request.FILES.get("file")
    if not isinstance(file, UploadedFile):
        raise TypedError(_("choose the CSV file of the gauge first."))
    if (file.size or 0) > LARGEST_FILE_BYTES:
        raise TypedError(
            _("%(name)s has %(size)d bytes; the file of a gauge has at most %(most)d.")
            % {"name": file.name, "size": file.size, "most": LARGEST_FILE_BYTES}
        )
    return file


def _show(request: HttpRequest, code: str, *, status: int = 200, faults: object = ()) -> HttpResponse:
    try:
        found = run_quality(code)
    except RunNotFoundError as error:
        raise Http404(str(error)) from error
    chart = found.diameter.chart if found.diameter else None
    return page(
        request,
        "planner/run_quality.html",
        status=status,
        title=_("Quality of run %(run)s") % {"run": found.run_code},
        found=found,
        pictures=control_pictures(chart) if chart else (),
        points=chart.points[:MOST_SUBGROUPS_DRAWN] if chart else (),
        faults=faults,
        may_report=may(request.user, Scope.FLOOR),
    )
