"""A deprecated version of the API says so in every answer."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone

from stockplan.api_errors import PROBLEM_MEDIA_TYPE, plain_problem
from stockplan.api_versions import VERSIONS, EndOfVersion

PREFIX = "/api/"


class VersionMiddleware:
    """Says in every answer of a deprecated version that it is one; after its sunset answers 410."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        end = _end_of(request.path)
        if end is None:
            return self.get_response(request)
        response = _gone(request, end) if timezone.now() >= end.sunset_at else self.get_response(request)
        for name, value in end.headers().items():
            response[name] = value
        return response


def _end_of(path: str) -> EndOfVersion | None:
    if not path.startswith(PREFIX):
        return None
    return VERSIONS.get(path.removeprefix(PREFIX).partition("/")[0])


def _gone(request: HttpRequest, end: EndOfVersion) -> HttpResponse:
    detail = f"This version of the API ended on {end.sunset_at.date()}; {end.guide} says what took its place."
    body = plain_problem(status=410, code="version_gone", detail=detail, instance=request.path)
    return JsonResponse(body, status=410, content_type=PROBLEM_MEDIA_TYPE)
