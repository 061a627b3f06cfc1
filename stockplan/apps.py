"""The admin of this project, with the site of `records_site`."""

from __future__ import annotations

from django.contrib.admin.apps import AdminConfig


class RecordsConfig(AdminConfig):
    """Django's admin with our site in place of its own."""

    default_site = "stockplan.records_site.RecordsSite"
