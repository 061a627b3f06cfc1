"""The Idempotency-Key header of a POST."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any

from django.utils import timezone
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.caller import caller_of
from inventory.errors import InvalidInputError
from inventory.services.answers import Answer, answer_once

if TYPE_CHECKING:
    from rest_framework.views import APIView

HEADER = "Idempotency-Key"
MAX_KEY_LENGTH = 255
# A string of structured fields (RFC 8941, 3.3.3), or the same without its quotation marks.
KEY_PATTERN = r'^("[\x20-\x21\x23-\x5b\x5d-\x7e]{1,255}"|[\x21\x23-\x5b\x5d-\x7e]{1,255})$'
Post = Callable[..., Response]


class KeyFormatError(InvalidInputError):
    """The header is no key."""

    code = "idempotency_key_format"


def answered_once(post: Post) -> Post:
    """Let a POST be repeated under an Idempotency-Key; without the header nothing is different."""

    @wraps(post)
    def answer(view: APIView, request: Request, *args: Any, **kwargs: Any) -> Response:
        key = _key(request)
        if key is None:
            return post(view, request, *args, **kwargs)
        said = answer_once(
            user=caller_of(request).user,
            key=key,
            request_digest=_digest(request),
            now=timezone.now(),
            produce=lambda: _rendered(post(view, request, *args, **kwargs)),
        )
        return Response(json.loads(said.body), status=said.status)

    return answer


def _key(request: Request) -> str | None:
    sent = request.headers.get(HEADER)
    if sent is None:
        return None
    if not re.fullmatch(KEY_PATTERN, sent):
        raise KeyFormatError(
            "{header} must be 1 to {most} printable ASCII characters, in quotation marks.",
            header=HEADER,
            most=MAX_KEY_LENGTH,
            pointer=HEADER,
        )
    return sent.removeprefix('"').removesuffix('"')


def _digest(request: Request) -> str:
    # With the channel: two tokens of one integration may be limited to different ones.
    body = json.dumps(request.data, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(f"{request.path}\n{caller_of(request).channel_code}\n{body}".encode()).hexdigest()


def _rendered(response: Response) -> Answer:
    return Answer(response.status_code, JSONRenderer().render(response.data).decode())
