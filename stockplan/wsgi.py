"""WSGI entry point."""

import os
from importlib import import_module

from django.conf import settings
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
application = get_wsgi_application()
# Every view, once, before a server forks its workers: else the first request to each of them waits for it.
import_module(settings.ROOT_URLCONF)
