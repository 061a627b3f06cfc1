"""Bearer tokens of integrations."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.db.models import Q
from django.utils import timezone
from knox.auth import TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed

from stockplan.access.models import ApiToken

# The time of last use is for the owner's eyes: a write per request would put a lock on the posting path.
LAST_USED_STEP = timedelta(minutes=1)


class ApiTokenAuthentication(TokenAuthentication):  # type: ignore[misc]  # knox has no type hints
    """`Authorization: Bearer <token>`; the scopes and the channel come with the token."""

    def authenticate_credentials(self, token: bytes) -> tuple[Any, ApiToken]:
        """Find the token, and note at most once a minute that it was used."""
        try:
            token.decode("ascii")
        except UnicodeDecodeError as error:
            raise AuthenticationFailed("Invalid token.") from error
        user, api_token = super().authenticate_credentials(token)
        _note_use(api_token)
        return user, api_token

    def _cleanup_token(self, auth_token: ApiToken) -> bool:
        """Say whether the token has expired. Unlike the parent keep it: the owner sees when it was last used."""
        return auth_token.expiry is not None and auth_token.expiry < timezone.now()


def _note_use(token: ApiToken) -> None:
    now = timezone.now()
    if token.last_used_at is not None and token.last_used_at > now - LAST_USED_STEP:
        return
    stale = Q(last_used_at__isnull=True) | Q(last_used_at__lte=now - LAST_USED_STEP)
    ApiToken.objects.filter(stale, pk=token.pk).update(last_used_at=now)
