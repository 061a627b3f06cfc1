"""The books: catalogue, plant data, ledger, runs, orders."""

from django.apps import AppConfig


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = "Books"
    default_auto_field = "django.db.models.BigAutoField"
