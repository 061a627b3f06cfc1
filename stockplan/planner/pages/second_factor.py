"""The page on which people set up a second factor for their own log-in, or turn it off."""

from __future__ import annotations

from base64 import b32encode
from collections.abc import Callable

from django.contrib import admin, messages
from django.contrib.auth import authenticate
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from stockplan.access.second_factor import (
    begin_second_factor,
    confirm_second_factor,
    device_of,
    is_right_code,
    remove_second_factor,
)
from stockplan.paper.symbols import qr_code, svg_path
from stockplan.planner.pages.form_address import takes_form
from stockplan.planner.pages.site import page, person_of

View = Callable[[HttpRequest], HttpResponse]


def _own(view: View) -> View:
    """Guard a page about one's own log-in, and keep it out of every cache."""

    def guarded(request: HttpRequest) -> HttpResponse:
        response = admin.site.admin_view(view)(request)
        assert isinstance(response, HttpResponse)
        return response

    return guarded


@require_safe
@_own
def second_factor(request: HttpRequest) -> HttpResponse:
    """Show whether there is one; while it is being set up, the secret of the app as code and as letters."""
    return _show(request)


@takes_form
@_own
def begin(request: HttpRequest) -> HttpResponse:
    """Draw a secret, once the password was given again."""
    person = person_of(request)
    given = request.POST.get("password", "")
    if authenticate(request, username=person.get_username(), password=given) is None:
        return _refuse(request, _("This is not your password."))
    begin_second_factor(person)
    return redirect("pages:second-factor")


@takes_form
@_own
def confirm(request: HttpRequest) -> HttpResponse:
    """Turn it on by the first code of the app."""
    if not confirm_second_factor(person_of(request), request.POST.get("code", "")):
        return _refuse(request, _("This is not what the app shows now. Wait for its next code and try again."))
    # Whoever has seen the session before does not hold it any more.
    request.session.cycle_key()
    messages.success(request, _("From now on the log-in asks for the code of your app as well."))
    return redirect("pages:second-factor")


@takes_form
@_own
def remove(request: HttpRequest) -> HttpResponse:
    """Turn it off by a code of the app."""
    person = person_of(request)
    if not is_right_code(person, request.POST.get("code", "")):
        return _refuse(request, _("This is not what the app shows now. Wait for its next code and try again."))
    remove_second_factor(person, by=person)
    messages.success(request, _("The log-in asks for your password alone."))
    return redirect("pages:second-factor")


def _refuse(request: HttpRequest, why: str) -> HttpResponse:
    messages.error(request, why)
    return _show(request, status=422)


def _show(request: HttpRequest, *, status: int = 200) -> HttpResponse:
    device = device_of(person_of(request))
    setting_up = device if device is not None and not device.confirmed else None
    code = qr_code(setting_up.config_url) if setting_up else None
    return page(
        request,
        "planner/second_factor.html",
        status=status,
        title=_("Second factor"),
        is_on=device is not None and device.confirmed,
        is_being_set_up=setting_up is not None,
        code_path=svg_path(code) if code is not None else "",
        code_side=code.shape[0] if code is not None else 0,
        secret=b32encode(setting_up.bin_key).decode() if setting_up else "",
    )
