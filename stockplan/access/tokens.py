"""Making tokens. The token itself is shown once; the books keep only its hash."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import timedelta

from django.contrib.auth.models import User
from django.db import transaction

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import Channel
from stockplan.access.models import ApiToken, Scope

MOST_REQUESTS = 1_000_000
NAME = re.compile(r"[a-z0-9][a-z0-9.-]{0,59}")


def create_token(
    *, name: str, scopes: Sequence[str], channel_code: str | None, days: int, requests_per_minute: int | None = None
) -> str:
    """Make a token for an integration and return it; it cannot be read again.

    Without a number of requests a minute the token has that of the settings, whatever it will be.

    An integration may hold several live tokens: make the new one, change the client, let the old one expire.

    Raises
    ------
    InvalidInputError
        If the name, a scope, the number of days or of requests is not allowed.
    NotFoundError
        If there is no such channel.
    """
    _check(name, scopes, days)
    if requests_per_minute is not None and not 1 <= requests_per_minute <= MOST_REQUESTS:
        raise InvalidInputError(
            "A token may make 1 to {most} requests a minute, not {requests_per_minute}.",
            most=MOST_REQUESTS,
            requests_per_minute=requests_per_minute,
        )
    with transaction.atomic():
        user, is_new = User.objects.get_or_create(username=f"integration.{name}")
        if is_new:
            user.set_unusable_password()
            user.save()
        _, token = ApiToken.objects.create(
            user,
            expiry=timedelta(days=days),
            name=name,
            scopes=sorted(set(scopes)),
            channel=_channel(channel_code),
            requests_per_minute=requests_per_minute,
        )
    return str(token)


def _check(name: str, scopes: Sequence[str], days: int) -> None:
    if not NAME.fullmatch(name):
        raise InvalidInputError("Token name {name!r}: use small letters, digits, '.' and '-', at most 60.", name=name)
    if not scopes:
        raise InvalidInputError("Name at least one scope of: {known}.", known=", ".join(Scope.values))
    if unknown := sorted(set(scopes) - set(Scope.values)):
        raise InvalidInputError(
            "Unknown scope {unknown}. Known: {known}.", unknown=", ".join(unknown), known=", ".join(Scope.values)
        )
    if not 1 <= days <= 3650:
        raise InvalidInputError("A token lives 1 to 3650 days, not {days}.", days=days)


def _channel(code: str | None) -> Channel | None:
    if code is None:
        return None
    try:
        return Channel.objects.get(code=code)
    except Channel.DoesNotExist as error:
        raise NotFoundError("There is no channel {code!r}.", code=code) from error
