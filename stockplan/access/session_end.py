"""When a log-in ends: so long after it, whatever is done, and earlier where nothing is asked for a while."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.contrib.sessions.backends.base import SessionBase
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

if TYPE_CHECKING:
    from django.contrib.auth.models import User  # not there yet when the app that connects this module is loaded

BEGUN, IDLE_S = "log_in_begun_at", "log_in_idle_s"
# A session is a row: writing it with every request would queue pages behind the postings of the books.
STEP = timedelta(minutes=1)
# The tablet beside a line is looked at for hours and touched once: its crew stays logged in for the shift.
STAYS = "floor"


def begin_session(request: HttpRequest, user: User, **_sender: Any) -> None:
    """Note on a new log-in when it began and how long it may be idle. One query."""
    stays = user.groups.filter(name=STAYS).exists()
    request.session[BEGUN] = timezone.now().isoformat()
    request.session[IDLE_S] = settings.SESSION_COOKIE_AGE if stays else settings.SESSION_IDLE_MINUTES * 60
    request.session.set_expiry(_end(request.session))


class SessionEndMiddleware:
    """Puts off the end of a log-in that is used, at most to so long after its begin. Writes at most once a minute."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer, then note the use; calls with a token do not touch the session."""
        response = self._get_response(request)
        session = request.session
        if session.accessed and BEGUN in session and (end := _end(session)) >= session.get_expiry_date() + STEP:
            session.set_expiry(end)
        return response


def _end(session: SessionBase) -> datetime:
    latest = datetime.fromisoformat(session[BEGUN]) + timedelta(seconds=settings.SESSION_COOKIE_AGE)
    return min(latest, timezone.now() + timedelta(seconds=session[IDLE_S]))
