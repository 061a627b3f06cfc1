"""What is around every working page: who may open it, who may change something there, and its frame."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec
from zoneinfo import ZoneInfo

from django.contrib import admin, messages
from django.contrib.auth.models import AnonymousUser, User
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import add_never_cache_headers
from django.utils.translation import gettext_lazy as _

from inventory.errors import NotFoundError
from inventory.selectors.plant import parameters
from stockplan.access.models import Scope
from stockplan.access.roles import scopes_of_user

# How addresses end that answer with a file.
FILES = (".csv", ".pdf")
Args = ParamSpec("Args")
View = Callable[Concatenate[HttpRequest, Args], HttpResponse]


def working_page(permission: str) -> Callable[[View[Args]], View[Args]]:
    """Guard a view by log-in and permission, and show its times in the plant's zone."""

    def decorate(view: View[Args]) -> View[Args]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: Args.args, **kwargs: Args.kwargs) -> HttpResponse:
            if not admin.site.has_permission(request):
                if request.method == "POST":
                    messages.error(request, _("Nothing was written: your log-in had ended. Log in and send it again."))
                return redirect_to_login(request.get_full_path(), reverse("admin:login"))
            if not request.user.has_perm(permission):
                return refuse(request)
            _check_texts(request)
            try:
                zone = ZoneInfo(parameters().time_zone)
            except NotFoundError:
                return _no_plant(request)
            with timezone.override(zone):
                response = view(request, *args, **kwargs)
            # Who logs out leaves nothing behind on a shared tablet.
            add_never_cache_headers(response)
            return response

        return guarded

    return decorate


def _no_plant(request: HttpRequest) -> HttpResponse:
    """Say that there is nothing to show yet: a page to who opens one, plain words to who asks for a file."""
    title = _("No plant is loaded yet")
    if request.path.endswith(FILES):
        return HttpResponse(f"{title}.\n", status=404, content_type="text/plain; charset=utf-8")
    return page(request, "planner/no_plant.html", title=title)


def _check_texts(request: HttpRequest) -> None:
    """Refuse a text that PostgreSQL cannot be asked for, wherever in the request it stands.

    Raises
    ------
    SuspiciousOperation
        If address, query or form hold a NUL character, which no keyboard writes.
    """
    typed = [text for fields in (request.GET, request.POST) for _, texts in fields.lists() for text in texts]
    if any("\x00" in str(text) for text in (request.path, *typed)):
        raise SuspiciousOperation("A text holds a NUL character.")


def may(user: User | AnonymousUser, scope: Scope) -> bool:
    """Tell whether one of this user's roles has a right. One query at most."""
    return isinstance(user, User) and scope in scopes_of_user(user)


def may_plan(user: User | AnonymousUser) -> bool:
    """Tell whether this user may compute and release lists and give instructions. One query at most."""
    return may(user, Scope.PLAN)


def person_of(request: HttpRequest) -> User:
    """Return who is logged in behind a guarded view.

    Raises
    ------
    PermissionDenied
        If nobody is: the view was not guarded.
    """
    if not isinstance(request.user, User):
        raise PermissionDenied
    return request.user


def action(scope: Scope, *, sees: str) -> Callable[[View[Args]], View[Args]]:
    """Guard a view that changes something: log-in, sight of its page, and the right to change."""

    def decorate(view: View[Args]) -> View[Args]:
        @wraps(view)
        def guarded(request: HttpRequest, /, *args: Args.args, **kwargs: Args.kwargs) -> HttpResponse:
            if not may(request.user, scope):
                return refuse(request)
            return view(request, *args, **kwargs)

        return working_page(sees)(guarded)

    return decorate


def planning_action(view: View[Args]) -> View[Args]:
    """Guard a view that changes plans."""
    return action(Scope.PLAN, sees="planner.view_makelist")(view)


def page(request: HttpRequest, template: str, *, status: int = 200, **context: Any) -> HttpResponse:
    """Render a working page inside the frame of the admin site, without its side bar."""
    frame = {**admin.site.each_context(request), "is_nav_sidebar_enabled": False, "available_apps": []}
    return render(request, template, {**frame, **context}, status=status)


def refuse(request: HttpRequest) -> HttpResponse:
    """Say which pages this log-in may open instead of the one asked for."""
    return page(request, "planner/not_for_you.html", status=403, title=_("This page is not for your log-in"))
