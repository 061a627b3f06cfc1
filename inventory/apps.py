"""The books: catalogue, plant data, ledger, runs, orders."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = _("Books")
    default_auto_field = "django.db.models.BigAutoField"
