"""Who may call a view: any one of the scopes that the view requires for the method."""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING, cast

from django.utils.translation import gettext as _
from rest_framework.exceptions import NotAuthenticated, PermissionDenied
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from inventory.api.caller import Caller, set_caller
from stockplan.access.models import ApiToken
from stockplan.access.roles import scopes_of_user

if TYPE_CHECKING:
    from django.contrib.auth.models import User
    from rest_framework.views import APIView  # at run time it imports this module, by way of the settings


class MissingScopeError(PermissionDenied):
    """The caller is known, but has none of the scopes that the view requires."""

    default_code = "missing_scope"


class HasScope(BasePermission):
    """Lets in a token or a logged-in person with a scope named in the view's `required_scopes`."""

    def has_permission(self, request: Request, view: APIView) -> bool:
        """Put the caller on the request, or refuse with the scopes that would do."""
        if not request.user or not request.user.is_authenticated:
            raise NotAuthenticated
        caller = _caller(request)
        set_caller(request, caller)
        if request.method == "OPTIONS":
            return True
        method = "GET" if request.method == "HEAD" else request.method
        required = getattr(view, "required_scopes", {}).get(method)
        if required is None:
            # Method not allowed is the view's answer; a view that forgot its scopes lets nobody in.
            return not hasattr(view, str(method).lower())
        if caller.scopes.isdisjoint(required):
            raise MissingScopeError(_("This needs the scope %(scopes)s.") % {"scopes": reduce(_either, required)})
        return True


def _caller(request: Request) -> Caller:
    user = cast("User", request.user)
    if isinstance(request.auth, ApiToken):
        token = request.auth
        channel = token.channel.code if token.channel is not None else None
        return Caller(user=user, scopes=frozenset(token.scopes), channel_code=channel)
    return Caller(user=user, scopes=scopes_of_user(user))


def _either(one: str, other: str) -> str:
    return _("%(one)s or %(other)s") % {"one": one, "other": other}
