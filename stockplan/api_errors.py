"""Errors of the API as problem documents (RFC 9457), and the one map from broken rules to HTTP.

| status | when |
| --- | --- |
| 400 | the request has not the shape that the schema states |
| 401, 403 | nobody known, or without the scope |
| 404 | the address names no record that the caller may see |
| 409 | the request clashes with the present state of the books or of the plan |
| 412 | the record has changed since the client read it |
| 422 | the shape is right, but a value names nothing or is outside what a rule allows |
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from http import HTTPStatus
from typing import Any
from urllib.parse import quote

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.translation import gettext as _
from drf_standardized_errors.handler import ExceptionHandler
from drf_standardized_errors.types import ExceptionHandlerContext
from rest_framework import exceptions
from rest_framework.response import Response

from forecasting.errors import ForecastingError
from inventory.api.clock import ReplayNeededError
from inventory.api.idempotency import HEADER, KeyFormatError
from inventory.api.views import QueryError
from inventory.errors import BooksError, ConflictError, InvalidInputError, NotFoundError
from inventory.order_errors import OrderChangedError
from inventory.rules.calendar import CalendarError
from stockplan.planner.core.run_order import RunOrderError
from stockplan.planner.core.whatif import WhatIfError
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.faults import not_found
from stockplan.planner.selectors.make_lists import MakeListNotFoundError
from stockplan.planner.services.forecasts import ListDaysError
from stockplan.planner.services.make_lists import WeekError
from stockplan.planner.wording import rule_said

PROBLEM_MEDIA_TYPE = "application/problem+json"
# A tag URI (RFC 4151) names the kind of problem for good, and promises no page behind it (RFC 9457, 3.1.1).
TYPE_PREFIX = "tag:stockplan.example.org,2026:problem/"

# From the most special class to the most general: the first that fits counts.
STATUS_OF: tuple[tuple[type[Exception], HTTPStatus], ...] = (
    (ReplayNeededError, HTTPStatus.FORBIDDEN),
    (KeyFormatError, HTTPStatus.BAD_REQUEST),
    (MakeListNotFoundError, HTTPStatus.NOT_FOUND),
    (OrderChangedError, HTTPStatus.PRECONDITION_FAILED),
    (ConflictError, HTTPStatus.CONFLICT),
    (ListDaysError, HTTPStatus.UNPROCESSABLE_ENTITY),
    (WeekError, HTTPStatus.UNPROCESSABLE_ENTITY),
    (WhatIfError, HTTPStatus.UNPROCESSABLE_ENTITY),
    (RunOrderError, HTTPStatus.UNPROCESSABLE_ENTITY),
    (InvalidInputError, HTTPStatus.UNPROCESSABLE_ENTITY),
    (BooksError, HTTPStatus.CONFLICT),
    (PlanningError, HTTPStatus.CONFLICT),
    (ForecastingError, HTTPStatus.CONFLICT),
    (CalendarError, HTTPStatus.CONFLICT),
)
RULES = (BooksError, PlanningError, ForecastingError, CalendarError)


class BrokenRuleError(exceptions.APIException):
    """A broken rule of the books, the plan or the forecast, on its way to the client.

    A pointer to what the address names (the run of `/runs/{run}/start/`) is no pointer into the body: it is left out.
    """

    def __init__(self, rule: Exception, *, address: Container[str] = ()) -> None:
        super().__init__(detail=rule_said(rule), code=_rule_code(rule))
        pointer: str = getattr(rule, "pointer", "")
        self.pointer = "" if pointer.removeprefix("/") in address else pointer
        self.status_code = _status_of(rule, pointer=self.pointer)


def problem_handler(exc: Exception, context: ExceptionHandlerContext) -> Response | None:
    """Answer an exception of a view with a problem document; DRF calls it."""
    return ProblemExceptionHandler(exc, context).run()


class ProblemExceptionHandler(ExceptionHandler):
    """Keeps the parent's rollback, log and signal; makes the body a problem document."""

    def convert_known_exceptions(self, exc: Exception) -> Exception:
        """Turn broken rules into what DRF can answer."""
        if isinstance(exc, RULES):
            return BrokenRuleError(exc, address=self.context["kwargs"])
        known: Exception = super().convert_known_exceptions(exc)
        return known

    def format_exception(self, exc: exceptions.APIException) -> dict[str, Any]:
        """Write the problem document."""
        request = self.context["request"]
        return problem_document(exc, instance=request.path if request is not None else "")

    def get_response(self, exc: exceptions.APIException, data: dict[str, Any]) -> Response:
        """Send it as what it is."""
        return Response(data, status=exc.status_code, headers=self.get_headers(exc), content_type=PROBLEM_MEDIA_TYPE)


def problem_document(exc: exceptions.APIException, *, instance: str) -> dict[str, Any]:
    """Return the members of the problem document of an exception.

    `errors` follows the example of RFC 9457, section 3: one entry for each bad field, with a JSON pointer
    (RFC 6901) as URI fragment; for a query parameter `parameter` stands in its place.
    """
    is_shape = isinstance(exc, exceptions.ValidationError)
    errors = list(_field_errors(exc))
    code = "invalid_request" if is_shape else _code_of(exc)
    misfit = _("%(n)d part(s) of the request do not fit the schema; see errors.") % {"n": len(errors)}
    detail = misfit if is_shape else str(exc.detail)
    document = plain_problem(status=exc.status_code, code=code, detail=detail, instance=instance)
    return document | {"errors": errors} if errors else document


def page_not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer an address that no view has: a problem document below /api/, the site's page elsewhere."""
    if not request.path.startswith("/api/"):
        return not_found(request, exception)
    detail = _("There is nothing at %(path)s.") % {"path": request.path}
    document = plain_problem(status=404, code="not_found", detail=detail, instance=request.path)
    return JsonResponse(document, status=404, content_type=PROBLEM_MEDIA_TYPE)


def plain_problem(*, status: int, code: str, detail: str, instance: str) -> dict[str, Any]:
    """Return the members of a problem document that names no field."""
    return {
        "type": TYPE_PREFIX + code,
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": _printable(detail),
        "instance": quote(_printable(instance)),
        "code": code,
    }


def _rule_code(rule: Exception) -> str:
    if isinstance(rule, BooksError | PlanningError):
        return rule.code
    return "forecasting_rule" if isinstance(rule, ForecastingError) else "calendar_rule"


def _status_of(rule: Exception, *, pointer: str) -> HTTPStatus:
    if isinstance(rule, NotFoundError):
        # Without a pointer the address names nothing; with one a field of the request does.
        return HTTPStatus.UNPROCESSABLE_ENTITY if pointer else HTTPStatus.NOT_FOUND
    return next(status for cls, status in STATUS_OF if isinstance(rule, cls))


def _code_of(exc: exceptions.APIException) -> str:
    codes = exc.get_codes()
    return codes if isinstance(codes, str) else exc.default_code


def _field_errors(exc: exceptions.APIException) -> Iterator[dict[str, str]]:
    if isinstance(exc, BrokenRuleError):
        if exc.pointer:
            yield {"detail": _printable(str(exc.detail)), "code": _code_of(exc)} | _place(exc.pointer)
        return
    if isinstance(exc, exceptions.ValidationError):
        in_query = isinstance(exc, QueryError)
        for path, error in _flat(exc.detail, ()):
            where = {"parameter": _printable(str(path[0]))} if in_query and path else {"pointer": _pointer(path)}
            yield {"detail": _printable(str(error)), "code": str(error.code)} | where


def _flat(detail: Any, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], exceptions.ErrorDetail]]:
    if isinstance(detail, Mapping):
        for name, below in detail.items():
            yield from _flat(below, path if name == "non_field_errors" else (*path, name))
    elif isinstance(detail, Sequence) and not isinstance(detail, str):
        for index, below in enumerate(detail):
            is_message = isinstance(below, exceptions.ErrorDetail)
            yield from _flat(below, path if is_message else (*path, index))
    else:
        yield path, detail


def _place(pointer: str) -> dict[str, str]:
    if pointer.startswith("?"):
        return {"parameter": pointer[1:]}
    if pointer == HEADER:
        return {"header": pointer}
    return {"pointer": "#" + quote(pointer.removeprefix("#"), errors="backslashreplace")}


def _pointer(path: Sequence[str | int]) -> str:
    escaped = (str(part).replace("~", "~0").replace("/", "~1") for part in path)
    return _place("".join(f"/{part}" for part in escaped))["pointer"]


def _printable(text: str) -> str:
    """Keep a lone surrogate of the request from making the answer unwritable."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
