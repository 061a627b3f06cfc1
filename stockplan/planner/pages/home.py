"""The entry page: the working pages of this log-in first, the records of the admin below."""

from __future__ import annotations

from django.contrib import admin
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _

from stockplan.planner.pages.working_pages import pages_for


def entry(request: HttpRequest) -> HttpResponse:
    """Show the index of the admin site with the working pages on top."""
    index = admin.site.admin_view(admin.site.index)
    response: HttpResponse = index(
        request, extra_context={"working_pages": pages_for(request.user), "title": _("Start")}
    )
    return response
