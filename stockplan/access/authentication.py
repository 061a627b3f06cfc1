"""Bearer tokens of integrations."""

from __future__ import annotations

import binascii
from datetime import timedelta
from hmac import compare_digest
from typing import Any

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _
from knox.auth import TokenAuthentication
from knox.crypto import hash_token
from knox.settings import CONSTANTS
from rest_framework.exceptions import AuthenticationFailed

from stockplan.access.models import ApiToken
from stockplan.access.token_rows import tokens_with_key

# The time of last use is for the owner's eyes: a write per request would put a lock on the posting path.
LAST_USED_STEP = timedelta(minutes=1)


class ApiTokenAuthentication(TokenAuthentication):  # type: ignore[misc]  # knox has no type hints
    """`Authorization: Bearer <token>`; the scopes and the channel come with the token."""

    def authenticate_credentials(self, token: bytes) -> tuple[Any, ApiToken]:
        """Find the token, and note at most once a minute that it was used.

        Unlike the parent keep a token that has expired: the owner sees when it was last used.
        """
        try:
            text = token.decode("ascii")
            digest = hash_token(text)
        except (UnicodeDecodeError, binascii.Error) as error:
            raise AuthenticationFailed(_("Invalid token.")) from error
        for candidate in tokens_with_key(text[: CONSTANTS.TOKEN_KEY_LENGTH]):
            is_live = candidate.expiry is None or candidate.expiry >= timezone.now()
            if is_live and compare_digest(digest, candidate.digest):
                # The parent refuses users who may not log in any more.
                user, api_token = self.validate_user(candidate)
                _note_use(api_token)
                return user, api_token
        raise AuthenticationFailed(_("Invalid token."))


def _note_use(token: ApiToken) -> None:
    now = timezone.now()
    if token.last_used_at is not None and token.last_used_at > now - LAST_USED_STEP:
        return
    stale = Q(last_used_at__isnull=True) | Q(last_used_at__lte=now - LAST_USED_STEP)
    ApiToken.objects.filter(stale, pk=token.pk).update(last_used_at=now)
