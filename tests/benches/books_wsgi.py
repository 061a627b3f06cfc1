"""The service for `bench_books`, without the planner: it is asked for no day, so that only the books are measured."""

from __future__ import annotations

import os
from collections.abc import Collection
from datetime import date, datetime
from importlib import import_module

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
application = get_wsgi_application()


def no_day(wanted: Collection[tuple[int, int]], *, as_of: datetime) -> dict[tuple[int, int], date | None]:
    """Stands in for the planner."""
    return dict.fromkeys(wanted)


def name_no_day() -> None:
    """Let the books ask this module instead of the planner."""
    from django.conf import settings

    settings.EARLIEST_CAPACITY_DAY = f"{__name__}.no_day"
    # Once, before the workers fork: sixteen that import it at once outlast the patience of the server.
    import_module(settings.ROOT_URLCONF)


name_no_day()
