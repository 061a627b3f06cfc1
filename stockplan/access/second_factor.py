"""The optional second factor of a log-in: codes of an authenticator app (TOTP, RFC 6238), one app a person.

Secret, check, step that was used last and throttling are those of django-otp; here is when it is asked for.
"""

from __future__ import annotations

from django.contrib.admin.models import CHANGE, LogEntry
from django.contrib.auth.models import User
from django.db import transaction
from django_otp.plugins.otp_totp.models import TOTPDevice

APP = "authenticator app"


def device_of(user: User) -> TOTPDevice | None:
    """Return the app of a person; while it is being set up it is not confirmed. One query."""
    return TOTPDevice.objects.filter(user=user).order_by("-confirmed", "-id").first()


def is_right_code(user: User, code: str) -> bool:
    """Say whether a person may go on with this code; whoever has set up no app may without one.

    A code is right once. After each wrong one the next try has to wait, twice as long each time, and until then is
    wrong. Locks the device, so that two log-ins at once cannot use one code.
    """
    with transaction.atomic():
        device = TOTPDevice.objects.select_for_update().filter(user=user, confirmed=True).first()
        return device is None or bool(device.verify_token(_digits(code)))


@transaction.atomic
def begin_second_factor(user: User) -> None:
    """Draw the secret of a new app that is not asked for before it was confirmed; nothing where there is one."""
    User.objects.select_for_update().get(pk=user.pk)
    devices = TOTPDevice.objects.filter(user=user)
    if devices.filter(confirmed=True).exists():
        return
    devices.delete()
    TOTPDevice.objects.create(user=user, name=APP, confirmed=False)


@transaction.atomic
def confirm_second_factor(user: User, code: str) -> bool:
    """Turn the second factor on if the app that is being set up shows this code."""
    device = TOTPDevice.objects.select_for_update().filter(user=user, confirmed=False).first()
    if device is None or not device.verify_token(_digits(code)):
        return False
    device.confirmed = True
    device.save(update_fields=["confirmed"])
    _note(user, by=user, what="Second factor turned on.")
    return True


def remove_second_factor(user: User, *, by: User | None) -> bool:
    """Turn the second factor off, or give up setting it up; say whether there was one.

    `by` is None at the server's console.
    """
    with transaction.atomic():
        number, _ = TOTPDevice.objects.filter(user=user).delete()
        if number:
            _note(user, by=by or user, what="Second factor turned off" + (" at the console." if by is None else "."))
    return bool(number)


def _note(user: User, *, by: User, what: str) -> None:
    LogEntry.objects.log_actions(by.pk, [user], CHANGE, what, single_object=True)


def _digits(code: str) -> str:
    return "".join(code.split())
