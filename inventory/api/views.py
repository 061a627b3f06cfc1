"""What every view of the API shares: bounded JSON in, checked shape, one call, JSON out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail
from rest_framework.request import Request
from rest_framework.views import APIView

from inventory.api.idempotency import answered_once
from inventory.api.parsers import StrictJSONParser, check_body_size


class QueryError(serializers.ValidationError):
    """Query parameters that do not fit; told apart from a body so that the answer can name the parameter."""


class ApiView(APIView):
    """A view of the API.

    Attributes
    ----------
    required_scopes : mapping of method to scopes
        Any one of the scopes lets a caller in. The site's permission class reads it; a method that is missing here
        is refused to everybody.
    """

    required_scopes: ClassVar[Mapping[str, tuple[str, ...]]] = {}
    parser_classes = [StrictJSONParser]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Let known callers in, with bodies of a decent size."""
        super().initial(request, *args, **kwargs)
        check_body_size(request)

    def __init_subclass__(cls, **kwargs: Any) -> None:
        """Let every POST be repeated under an Idempotency-Key; no view can forget it."""
        super().__init_subclass__(**kwargs)
        if post := vars(cls).get("post"):
            cls.post = answered_once(post)  # type: ignore[attr-defined]  # the framework looks it up by name


def checked_body(serializer_class: type[serializers.Serializer[Any]], request: Request) -> dict[str, Any]:
    """Return the body's fields in the right types, or raise a ValidationError that names each wrong one."""
    serializer = serializer_class(data=request.data)
    serializer.is_valid(raise_exception=True)
    fields: dict[str, Any] = serializer.validated_data
    return fields


def checked_query(serializer_class: type[serializers.Serializer[Any]], request: Request) -> dict[str, Any]:
    """Return the query parameters in the right types, or raise a QueryError that names each wrong one."""
    known = serializer_class().fields
    given = request.query_params
    if unknown := sorted(set(given) - set(known)):
        message = _("Unknown query parameter. Known: %(known)s.") % {"known": ", ".join(known) or _("none")}
        raise QueryError({name: [ErrorDetail(message, "unknown_parameter")] for name in unknown})
    lists = {name for name, field in known.items() if isinstance(field, serializers.ListField)}
    if repeated := sorted(name for name in given if len(given.getlist(name)) > 1 and name not in lists):
        raise QueryError({name: [ErrorDetail(_("Give it once."), "repeated_parameter")] for name in repeated})
    # A plain dictionary: to a form's data the framework is lenient, and takes `?search=` for nothing given.
    serializer = serializer_class(data={name: given.getlist(name) if name in lists else given[name] for name in given})
    if not serializer.is_valid():
        raise QueryError(serializer.errors)
    fields: dict[str, Any] = serializer.validated_data
    return fields
