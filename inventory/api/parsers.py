"""Reading of request bodies within limits, so that no body can exhaust the server."""

from __future__ import annotations

from collections.abc import Mapping
from typing import IO, Any

from rest_framework import status
from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import JSONParser

MAX_BODY_BYTES = 256 * 1024


class BodyTooLargeError(APIException):
    """The body is longer than any honest request."""

    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_detail = f"The body is longer than {MAX_BODY_BYTES} bytes."
    default_code = "body_too_large"


class BoundedJSONParser(JSONParser):
    """JSON of at most `MAX_BODY_BYTES`."""

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        declared = int((parser_context or {})["request"].META.get("CONTENT_LENGTH") or 0)
        if declared > MAX_BODY_BYTES:
            raise BodyTooLargeError
        try:
            return super().parse(stream, media_type, parser_context)
        except RecursionError as error:
            raise ParseError("JSON parse error - nested too deep.") from error
