"""The admin site: records in groups that people know, their times in the plant's zone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast
from zoneinfo import ZoneInfo

from django.contrib.admin import AdminSite
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.template.response import SimpleTemplateResponse
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext, gettext_noop
from django.utils.translation import gettext_lazy as _

from inventory.models import PlantParameters
from stockplan.access.log_in_form import LogInForm

View = TypeVar("View", bound=Callable[..., HttpResponseBase])

# What a group of records is called, in the order in which they stand; each admin class names its own.
GROUPS = (
    gettext_noop("Catalogue"),
    gettext_noop("Plant"),
    gettext_noop("Orders"),
    gettext_noop("Books"),
    gettext_noop("Planning"),
    gettext_noop("Access"),
)


class RecordsSite(AdminSite):
    """The site behind one log-in. The working pages stand in its frame."""

    site_header = "Stockplan"
    site_title = "Stockplan"
    index_title = _("Start")
    # The site is the admin: there is no other site to view.
    site_url = None
    login_form = LogInForm

    def admin_view(self, view: View, cacheable: bool = False) -> View:
        """Show a page of records in the plant's zone, as the working pages are. One query."""
        guarded = super().admin_view(view, cacheable)

        @wraps(guarded)
        def in_plant_zone(*args: Any, **kwargs: Any) -> HttpResponseBase:
            zone = PlantParameters.objects.values_list("time_zone", flat=True).first()
            with timezone.override(ZoneInfo(zone) if zone else None):
                response = guarded(*args, **kwargs)
                # Rendered here, while the zone holds.
                return response.render() if isinstance(response, SimpleTemplateResponse) else response

        return cast(View, in_plant_zone)

    def get_app_list(self, request: HttpRequest, app_label: str | None = None) -> list[dict[str, Any]]:
        """Return the records by group instead of by application; an application's own page lists it alone."""
        apps: list[dict[str, Any]] = super().get_app_list(request, app_label)
        if app_label is not None:
            return apps
        grouped: defaultdict[str, list[dict[str, Any]]] = defaultdict(list)
        for app in apps:
            for entry in app["models"]:
                grouped[getattr(self._registry[entry["model"]], "group", app["name"])].append(entry)
        names = [name for name in GROUPS if name in grouped] + sorted(set(grouped) - set(GROUPS))
        return [self._group(name, grouped[name]) for name in names]

    @staticmethod
    def _group(name: str, entries: list[dict[str, Any]]) -> dict[str, Any]:
        return {
            "name": gettext(name) if name in GROUPS else name,
            "app_label": slugify(name),
            "has_module_perms": True,
            "models": sorted(entries, key=lambda entry: str(entry["name"]).lower()),
        }
