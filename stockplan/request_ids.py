"""A name for every request: in its answer, in every line of the log that it causes, and in a client's report of it."""

from __future__ import annotations

import logging
import re
import uuid
from collections.abc import Callable
from contextvars import ContextVar

from django.http import HttpRequest, HttpResponse

HEADER = "X-Request-ID"
# A client may name its request; anything else than this could forge lines of the log.
_NAMED = re.compile(r"[A-Za-z0-9._-]{1,64}")
_current: ContextVar[str] = ContextVar("request_id", default="-")


class RequestIdMiddleware:
    """Names the request after the client's own header, or anew, and says so in the answer."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        named = request.headers.get(HEADER, "")
        request_id = named if _NAMED.fullmatch(named) else uuid.uuid4().hex
        request.request_id = request_id  # type: ignore[attr-defined]  # the filter reads it
        token = _current.set(request_id)
        try:
            response = self.get_response(request)
        finally:
            _current.reset(token)
        response[HEADER] = request_id
        return response


class RequestIdFilter(logging.Filter):
    """Puts the name of the request under way on each record of the log; `-` outside of one."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Name the record and let it through.

        The server's own line about a failed request is written after the middleware, and carries the request.
        """
        record.request_id = getattr(getattr(record, "request", None), "request_id", _current.get())
        return True
