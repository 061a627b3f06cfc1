"""Reading of request bodies within limits, so that no body can exhaust the server."""

from __future__ import annotations

import codecs
import json
from collections.abc import Mapping
from typing import IO, Any

from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from rest_framework import status
from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import JSONParser
from rest_framework.request import Request

MAX_BODY_BYTES = 256 * 1024


class BodyTooLargeError(APIException):
    """The body is longer than any honest request."""

    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_detail = format_lazy(_("The body is longer than {most} bytes."), most=MAX_BODY_BYTES)
    default_code = "body_too_large"


def check_body_size(request: Request) -> None:
    """Refuse a body by the length that it declares, before a byte of it is read; without one nothing is read.

    Raises
    ------
    BodyTooLargeError
        If it is longer than `MAX_BODY_BYTES`.
    """
    if int(request.META.get("CONTENT_LENGTH") or 0) > MAX_BODY_BYTES:
        raise BodyTooLargeError


class StrictJSONParser(JSONParser):
    """JSON (RFC 8259) whose numbers are numbers and whose members are there once."""

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,  # noqa: ARG002 - the caller's signature
        parser_context: Mapping[str, Any] | None = None,  # noqa: ARG002
    ) -> Any:
        try:
            return json.load(codecs.getreader("utf-8")(stream), parse_constant=_refused, object_pairs_hook=_members)
        except RecursionError as error:
            raise ParseError(gettext("JSON parse error - nested too deep.")) from error
        except ValueError as error:
            raise ParseError(gettext("JSON parse error - %(error)s") % {"error": error}) from error


def _refused(constant: str) -> Any:
    raise ValueError(gettext("%(constant)s is no JSON number") % {"constant": constant})


def _members(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Refuse a member that is there twice (RFC 7493, 2.3): two readers would take two different values."""
    members = dict(pairs)
    if len(members) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in members if names.count(name) > 1)
        raise ValueError(gettext("member %(name)r is there twice") % {"name": twice})
    return members
