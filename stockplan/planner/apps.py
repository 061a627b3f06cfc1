"""The planner: forecasts, stock targets, make lists."""

from django.apps import AppConfig


class PlannerConfig(AppConfig):
    name = "stockplan.planner"
    label = "planner"
    verbose_name = "Planning"
    default_auto_field = "django.db.models.BigAutoField"
