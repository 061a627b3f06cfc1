"""Who may do what: roles of people, tokens of integrations."""

from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in
from django.utils.translation import gettext_lazy as _

from stockplan.access.session_end import begin_session


class AccessConfig(AppConfig):
    name = "stockplan.access"
    label = "access"
    verbose_name = _("Access")
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Let every log-in have its end."""
        user_logged_in.connect(begin_session, dispatch_uid="begin_session")
