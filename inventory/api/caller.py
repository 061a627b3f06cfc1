"""Who calls: what the wiring found out about the credentials of a request, in the words of the books.

The books do not know tokens or roles. The site's permission class puts a `Caller` on each request that it lets
through; views and the clock read it from there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rest_framework.request import Request

if TYPE_CHECKING:
    from django.contrib.auth.models import User

REPLAY = "replay"


@dataclass(frozen=True)
class Caller:
    """What the credentials of a request allow.

    Parameters
    ----------
    user : User
        The person, or the user that an integration's token belongs to.
    scopes : frozenset of str
        What they may do.
    channel_code : str or None
        The only channel whose orders they see and post; None: every channel.
    """

    user: User
    scopes: frozenset[str]
    channel_code: str | None = None

    @property
    def may_replay(self) -> bool:
        """Whether the caller may state when the books learned of a fact, and read them as of a past instant."""
        return REPLAY in self.scopes


def set_caller(request: Request, caller: Caller) -> None:
    """Remember the caller on the request."""
    request.caller = caller  # type: ignore[attr-defined]  # a request carries what its middle layers found out


def caller_of(request: Request) -> Caller:
    """Return the caller that the permission class put on the request."""
    caller: Any = request.caller  # type: ignore[attr-defined]
    assert isinstance(caller, Caller)
    return caller
