"""How many requests a minute a token may make, counted on its row: for all processes and machines of a service."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.conf import settings
from django.db.models import Case, F, When
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from stockplan.access.models import ApiToken

if TYPE_CHECKING:
    from rest_framework.views import APIView  # at run time it imports this module, by way of the settings

MINUTE = timedelta(minutes=1)
# Requests that this process has charged to a token and not yet let in.
_charged: dict[str, int] = {}


class TokenThrottle(BaseThrottle):
    """Refuses a token that has used up its minute; people, who log in, are not counted.

    The generic cell rate algorithm (ITU-T I.371, annex A): each request takes a minute over the token's limit, a minute
    may be taken at once, and `charged_until` says until when all of it is taken. A process charges a second's worth
    with one write and lets that in without asking, as a write per request would cost the posting path more than the
    order. So each process may let in up to a second's worth more than the limit.
    """

    _wait_s = 0.0

    def allow_request(self, request: Request, view: APIView) -> bool:  # noqa: ARG002 - the caller's signature
        """Say whether the request is within the limit of its token."""
        if isinstance(request.auth, ApiToken):
            self._wait_s = _seconds_to_wait(request.auth, now=timezone.now())
        return self._wait_s == 0

    def wait(self) -> float:
        """Return the seconds until the next request would be let in."""
        return self._wait_s


def _seconds_to_wait(token: ApiToken, *, now: datetime) -> float:
    if left := _charged.get(token.pk, 0):
        _charged[token.pk] = left - 1
        return 0
    limit: int = token.requests_per_minute or settings.REQUESTS_PER_MINUTE
    requests = max(1, limit // 60)
    cost = MINUTE * requests / limit
    latest = now + MINUTE - cost
    # Beyond the minute a clock went back: what it left behind holds nobody up.
    if token.charged_until is not None and latest < token.charged_until <= now + MINUTE:
        return (token.charged_until - latest).total_seconds()
    if not _charge(token, cost, now=now):
        return cost.total_seconds()
    _charged[token.pk] = requests - 1
    return 0


def _charge(token: ApiToken, cost: timedelta, *, now: datetime) -> bool:
    """Whether the row had that much left; another process may have charged it since it was read."""
    row = ApiToken.objects.filter(pk=token.pk)
    is_full = {"charged_until__gt": now + MINUTE - cost, "charged_until__lte": now + MINUTE}
    begun = When(charged_until__gt=now, charged_until__lte=now + MINUTE, then=F("charged_until") + cost)
    charged: int = row.exclude(**is_full).update(charged_until=Case(begun, default=now + cost))
    return charged > 0
