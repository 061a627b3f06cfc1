"""The service as it is, with the bare order view beside it: one server, the same workers for both."""

from __future__ import annotations

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")

from django.conf import settings
from django.core.wsgi import get_wsgi_application

settings.ROOT_URLCONF = "tests.benches.bare_orders"
application = get_wsgi_application()
