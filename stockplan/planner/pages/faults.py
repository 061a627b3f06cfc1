"""What a person sees where there is no page, or a form came too late; the service's own faults are `500.html`."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _

from stockplan.planner.pages.site import page


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Say what is not there, in the words of the view that looked for it."""
    what = next(iter(exception.args), "")
    # An address that no view has comes with the addresses that were tried.
    words = what if isinstance(what, str) else ""
    return page(request, "planner/not_found.html", status=404, title=_("Not found"), what=words)


def too_old(request: HttpRequest, **_reason: str) -> HttpResponse:
    """Say that a form was refused which this log-in has not been given, as a forged one would be."""
    return page(request, "planner/too_old.html", status=403, title=_("This page was too old"))
