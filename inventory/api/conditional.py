"""Requests that depend on what the client has read (RFC 9110, 13): If-None-Match of a read, If-Match of a change."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from django.utils.http import parse_etags
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response

IF_NONE_MATCH = OpenApiParameter(
    "If-None-Match",
    str,
    OpenApiParameter.HEADER,
    description="ETag of an earlier answer: 304 if nothing has changed",
)
IF_MATCH = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    description="ETag of the order as it was read: 412 if it has changed",
)
NOT_MODIFIED = OpenApiResponse(description="what the client has is what it would get")


def answer_if_new(request: Request, body: Mapping[str, Any]) -> Response:
    """Answer a read, or 304 where the client has it. `as_of` does not count, so the tag is a weak one."""
    content = {name: value for name, value in body.items() if name != "as_of"}
    digest = hashlib.sha256(json.dumps(content, sort_keys=True, default=str).encode()).hexdigest()[:32]
    tag = f'W/"{digest}"'
    has_it = {given.removeprefix("W/") for given in parse_etags(request.headers.get("If-None-Match", ""))}
    if has_it & {"*", f'"{digest}"'}:
        return Response(status=status.HTTP_304_NOT_MODIFIED, headers={"ETag": tag})
    return Response(body, headers={"ETag": tag})


def version_header(version: str) -> dict[str, str]:
    """Return the header that names the version of a record."""
    return {"ETag": f'"{version}"'}


def versions_that_match(request: Request) -> set[str] | None:
    """Return the versions in which a change may find its record, None for any. A weak tag never matches."""
    given = parse_etags(request.headers.get("If-Match", "*"))
    return None if "*" in given else {tag.strip('"') for tag in given if not tag.startswith("W/")}
