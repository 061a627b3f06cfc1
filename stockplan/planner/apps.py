"""The planner: forecasts, stock targets, make lists."""

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _

from stockplan.record_names import say_in_the_readers_language


class PlannerConfig(AppConfig):
    name = "stockplan.planner"
    label = "planner"
    verbose_name = _("Planning")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Let records and their fields be called by the reader's words."""
        say_in_the_readers_language()
