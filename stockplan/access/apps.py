"""Who may do what: roles of people, tokens of integrations."""

from django.apps import AppConfig


class AccessConfig(AppConfig):
    name = "stockplan.access"
    label = "access"
    verbose_name = "Access"
    default_auto_field = "django.db.models.BigAutoField"
