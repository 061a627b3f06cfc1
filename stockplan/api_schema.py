"""What the OpenAPI document says beyond what the views say of themselves: errors, tokens, closed bodies."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, cast

from drf_spectacular.extensions import (
    OpenApiAuthenticationExtension,
    OpenApiSerializerExtension,
    OpenApiSerializerFieldExtension,
)
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import build_bearer_security_scheme_object
from drf_spectacular.utils import Direction, OpenApiResponse
from rest_framework import serializers

from inventory.api.chosen_fields import ChosenFieldsSerializer
from inventory.api.fields import NO_CONTROL_CHARACTERS, StrictSerializer, TextField
from inventory.api.idempotency import HEADER, KEY_PATTERN
from inventory.api.views import ApiView
from stockplan.api_errors import PROBLEM_MEDIA_TYPE
from stockplan.api_versions import CURRENT, VERSIONS

ALWAYS = ("401", "403", "404", "405", "406", "429")
WITH_INPUT = ("400", "422")
WITH_BODY = ("409", "413", "415")


IDEMPOTENCY_KEY = {
    "in": "header",
    "name": HEADER,
    "schema": {"type": "string", "pattern": KEY_PATTERN},
    "description": "a new one for each thing to do, the same for each repeat of it",
}

DETAIL = (
    "what is wrong, in that of the service's languages which Accept-Language asks for, else in English; instants in UTC"
)


class FieldErrorSerializer(serializers.Serializer[Any]):
    """One bad part of a request."""

    detail = serializers.CharField(help_text=DETAIL)
    code = serializers.CharField(help_text="stable name of the fault")
    pointer = serializers.CharField(required=False, help_text="JSON pointer into the body, as URI fragment")
    parameter = serializers.CharField(required=False, help_text="the query parameter")
    header = serializers.CharField(required=False, help_text="the header")


class ProblemSerializer(serializers.Serializer[Any]):
    """A problem document (RFC 9457)."""

    type = serializers.CharField(help_text="URI that names the kind of problem")
    title = serializers.CharField(help_text="the status in words")
    status = serializers.IntegerField(help_text="HTTP status")
    detail = serializers.CharField(help_text=DETAIL)
    instance = serializers.CharField(help_text="the address that was asked")
    code = serializers.CharField(help_text="stable name of the broken rule, the last part of type")
    errors = FieldErrorSerializer(many=True, required=False, help_text="one for each bad field")  # type: ignore[assignment]  # a field


class ProblemAutoSchema(AutoSchema):
    """Adds the scopes that an operation needs and the errors that it can give, as problem documents."""

    def get_description(self) -> str:  # type: ignore[override]  # as the generator's own class, not the framework's
        """Say which scopes let a caller in."""
        scopes = " or ".join(f"`{scope}`" for scope in cast(ApiView, self.view).required_scopes[self.method])
        return f"{super().get_description()}\n\nNeeds the scope {scopes}."

    def is_deprecated(self) -> bool:
        """Say so of every operation of a version that has an end."""
        return VERSIONS[CURRENT] is not None or bool(super().is_deprecated())

    def _get_parameters(self) -> list[dict[str, Any]]:
        parameters: list[dict[str, Any]] = super()._get_parameters()
        return [*parameters, IDEMPOTENCY_KEY] if self.method == "POST" else parameters

    def _get_response_bodies(self, direction: Direction = "response") -> dict[str, Any]:
        bodies: dict[str, Any] = super()._get_response_bodies(direction=direction)
        if direction != "response":
            return bodies
        return bodies | {code: self._problem(code) for code in self._error_codes() if code not in bodies}

    def _error_codes(self) -> tuple[str, ...]:
        has_body = self.method in ("POST", "PUT", "PATCH")
        parameters = self._get_parameters()
        has_query = any(parameter["in"] == "query" for parameter in parameters)
        has_condition = any(parameter["name"] == "If-Match" for parameter in parameters)
        return (
            ALWAYS
            + (WITH_INPUT if has_body or has_query else ())
            + (WITH_BODY if has_body else ())
            + (("412",) if has_condition else ())
        )

    def _problem(self, code: str) -> dict[str, Any]:
        response = OpenApiResponse(ProblemSerializer, description=HTTPStatus(int(code)).phrase)
        problem: dict[str, Any] = self._get_response_for_code(  # type: ignore[no-untyped-call]
            response, code, media_types=[PROBLEM_MEDIA_TYPE]
        )
        return problem


class ApiTokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """Bearer token of an integration."""

    target_class = "stockplan.access.authentication.ApiTokenAuthentication"
    name = "apiToken"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, Any]:  # noqa: ARG002 - the caller's signature
        """Describe the header."""
        scheme: dict[str, Any] = build_bearer_security_scheme_object(header_name="Authorization", token_prefix="Bearer")
        return scheme


class TextFieldExtension(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    """Says in the schema that text holds no control characters."""

    target_class = TextField
    match_subclasses = True

    def map_serializer_field(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        """Map as usual and add the pattern."""
        schema: dict[str, Any] = auto_schema._map_serializer_field(  # type: ignore[no-untyped-call]
            self.target, direction, bypass_extensions=True
        )
        return schema | {"pattern": NO_CONTROL_CHARACTERS}


class ChosenFieldsSerializerExtension(OpenApiSerializerExtension):  # type: ignore[no-untyped-call]
    """Says in the schema that `fields` may leave out any member of a row."""

    target_class = ChosenFieldsSerializer
    match_subclasses = True

    def map_serializer(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        """Map as usual, without what is required."""
        schema: dict[str, Any] = auto_schema._map_serializer(  # type: ignore[no-untyped-call]
            self.target, direction, bypass_extensions=True
        )
        return {name: value for name, value in schema.items() if name != "required"}


class StrictSerializerExtension(OpenApiSerializerExtension):  # type: ignore[no-untyped-call]
    """Says in the schema that a request body takes no member that it does not know."""

    target_class = StrictSerializer
    match_subclasses = True

    def map_serializer(self, auto_schema: AutoSchema, direction: Direction) -> dict[str, Any]:
        """Map as usual and close the object."""
        schema: dict[str, Any] = auto_schema._map_serializer(  # type: ignore[no-untyped-call]
            self.target, direction, bypass_extensions=True
        )
        return schema | {"additionalProperties": False} if direction == "request" else schema
