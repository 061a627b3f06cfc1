"""Fields that take exactly their JSON type: no number in quotes, no 1 for true, no unknown member.

The framework's own fields are lenient (`"5"` passes as 5, `"yes"` as true); a typing mistake in an integration
should be told at once, not guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import datetime
from decimal import Decimal
from functools import cache
from operator import attrgetter, itemgetter
from typing import Any

from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail
from rest_framework.fields import empty
from rest_framework.utils.serializer_helpers import BindingDict

MAX_SPOOLS = 100_000
LARGEST = Decimal(10) ** 12
NO_CONTROL_CHARACTERS = r"^[^\x00-\x1f\x7f]*$"
CODE_PATTERN = r"^[A-Z0-9][A-Z0-9.-]{0,31}$"


class TextField(serializers.CharField):
    """A JSON string without control characters, taken as it stands."""

    default_error_messages = {"control_character": _("Control characters are not allowed.")}

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("trim_whitespace", False)
        kwargs.setdefault("min_length", 1)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        if not re.fullmatch(NO_CONTROL_CHARACTERS, data):
            self.fail("control_character")
        return super().to_internal_value(data)


class NoteField(TextField):
    """Text that may be empty, as it is where it is left out."""

    def __init__(self, **kwargs: Any) -> None:
        # Not the framework's `allow_blank`: its schema lets an empty text match two of one.
        super().__init__(min_length=0, required=False, default="", **kwargs)

    def run_validation(self, data: Any = empty) -> Any:
        return "" if data == "" else super().run_validation(data)


class PatternField(serializers.RegexField):
    """A JSON string of a pattern, taken as it stands."""

    def __init__(self, pattern: str, **kwargs: Any) -> None:
        super().__init__(pattern, trim_whitespace=False, **kwargs)

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        return super().to_internal_value(data)


class CodeField(PatternField):
    """The code of a record, as the catalogue writes codes."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(CODE_PATTERN, max_length=32, **kwargs)


class CountField(serializers.IntegerField):
    """A JSON integer, which 3.0 is as well: pieces, spools, days."""

    def to_internal_value(self, data: Any) -> int:
        is_whole = isinstance(data, int) or (isinstance(data, float) and data.is_integer())
        if isinstance(data, bool) or not is_whole:
            self.fail("invalid")
        return super().to_internal_value(int(data))


class FlagField(serializers.BooleanField):
    """JSON true or false."""

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("invalid", input=data)
        return data


class KindField(serializers.ChoiceField):
    """One word of a closed set; a word outside it is refused with the set."""

    def __init__(self, choices: Any, **kwargs: Any) -> None:
        super().__init__(choices, **kwargs)
        self.error_messages["invalid_choice"] = format_lazy(
            _('"{{input}}" is not one of: {choices}.'), choices=", ".join(self.choices)
        )


class NumberField(serializers.FloatField):
    """A JSON number that the books keep in thousandths: kilograms to the gram, minutes, degrees.

    More decimals than that are rounded half to even: they come from a client's floating point, not from a scale.
    """

    smallest = Decimal("0.001")

    def to_internal_value(self, data: Any) -> Decimal:  # type: ignore[override]  # exact from here on
        if isinstance(data, bool) or not isinstance(data, int | float):
            self.fail("invalid")
        exact = Decimal(str(data))
        # Beyond any range that a field allows; only the validators' refusal is left to come.
        return exact if abs(exact) > LARGEST else exact.quantize(self.smallest)


class Shape(serializers.Serializer[Any]):
    """A serializer whose fields are made once a class: the framework copies them anew for each body and answer.

    No field may hang on one request: none asks for the `context`, none is changed after its declaration.
    """

    @property
    def fields(self) -> BindingDict:
        return _fields_of(type(self))

    def to_representation(self, instance: Any) -> dict[str, Any]:
        """Write each field as it says, None as null; the framework's own way looks for each value in five ways."""
        writers = _writers_of(type(self), isinstance(instance, Mapping))
        return {name: None if (value := read(instance)) is None else write(value) for name, read, write in writers}


@cache
def _fields_of(shape: type[Shape]) -> BindingDict:
    serializer = shape()
    fields = BindingDict(serializer)
    for name, field in serializer.get_fields().items():
        fields[name] = field
    return fields


@cache
def _writers_of(shape: type[Shape], of_mapping: bool) -> list[tuple[str, Callable[[Any], Any], Callable[[Any], Any]]]:
    """By field its name, what reads its value from an object or a mapping, and what writes it."""
    reader = itemgetter if of_mapping else attrgetter
    return [
        (name, reader(field.source or name), field.to_representation)
        for name, field in _fields_of(shape).items()
        if not field.write_only
    ]


class StrictSerializer(Shape):
    """A request body: a member that it does not know is refused with its name."""

    def to_internal_value(self, data: Any) -> Any:
        unknown = self._unknown(data)
        try:
            value = super().to_internal_value(data)
        except serializers.ValidationError as error:
            raise serializers.ValidationError({**error.detail, **unknown}) from error  # type: ignore[dict-item]
        if unknown:
            raise serializers.ValidationError(unknown)
        return value

    def _unknown(self, data: Any) -> dict[str, list[ErrorDetail]]:
        names = set(data) - set(self.fields) if isinstance(data, dict) else set()
        if not names:
            return {}
        said = gettext("Unknown field. Known: %(known)s.") % {"known": ", ".join(self.fields)}
        return {name: [ErrorDetail(said, "unknown_field")] for name in sorted(names)}


class InstantField(serializers.DateTimeField):
    """An instant with its offset from UTC (RFC 3339). One without is refused: nobody knows which clock it is of."""

    default_error_messages = {"naive": _("Give the offset from UTC, for example 2027-03-01T07:30:00Z.")}

    def to_internal_value(self, value: Any) -> datetime:
        if not isinstance(value, str):
            self.fail("invalid", format=_("YYYY-MM-DDThh:mm:ss with Z or an offset"))
        return super().to_internal_value(value)

    def enforce_timezone(self, value: datetime) -> datetime:
        if value.utcoffset() is None:
            self.fail("naive")
        return value


def rows_of(row: type[StrictSerializer], *, at_most: int, **kwargs: Any) -> serializers.ListField:
    """Return a field that takes one to `at_most` rows; unlike `many=True` the schema says so."""
    return serializers.ListField(child=row(), min_length=1, max_length=at_most, **kwargs)


class OccurredSerializer(StrictSerializer):
    """What every report of a fact may state: when it happened."""

    occurred_at = InstantField(
        required=False, help_text="when it happened; left out: now. With the scope replay also when it became known"
    )


class AsOfQuery(serializers.Serializer[Any]):
    """What every read may state."""

    as_of = InstantField(required=False, help_text="read the books as they were known then; needs the scope replay")
