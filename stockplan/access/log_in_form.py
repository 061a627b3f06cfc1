"""The form of the log-in: name, password and, for whoever has set one up, the code of an app."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.admin.forms import AdminAuthenticationForm
from django.contrib.auth.models import User
from django.contrib.auth.signals import user_login_failed
from django.utils.translation import gettext_lazy as _

from stockplan.access.second_factor import is_right_code


class LogInForm(AdminAuthenticationForm):
    """All at once, and one answer to whatever is wrong: nobody learns that a guessed password was right."""

    code = forms.CharField(
        label=_("Code of your app"),
        required=False,
        max_length=16,
        strip=True,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )
    error_messages = {
        **AdminAuthenticationForm.error_messages,
        "invalid_login": _(
            "This user name and password do not belong together, or the code of your app is missing or wrong. "
            "Capital letters count in both fields."
        ),
    }

    def clean(self) -> dict[str, Any]:
        """Check the code once the password is right; a wrong one counts for the lock as a wrong password does."""
        cleaned: dict[str, Any] = super().clean()
        user = self.get_user()
        if isinstance(user, User) and not is_right_code(user, cleaned.get("code", "")):
            name = {"username": user.get_username()}
            user_login_failed.send(sender=__name__, credentials=name, request=self.request)
            raise self.get_invalid_login_error()
        return cleaned
