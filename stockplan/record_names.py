"""Names of records and of their fields, which the framework makes of those in the code, in the reader's language."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db.models import Field, Model
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy

OURS = ("inventory", "planner", "access")


def say_in_the_readers_language() -> None:
    """Have names and help texts of our models looked up when they are shown. Migrations keep what the code states."""
    for model in _models():
        options: Any = model._meta
        for name in ("verbose_name", "verbose_name_plural"):
            words = getattr(options, name)
            # A plural that the framework made of the singular is late as well, but in English for good.
            is_made = name not in options.original_attrs
            setattr(options, name, gettext_lazy(str(words)) if is_made else _late(words))
        for field in _fields(model):
            field.verbose_name, field.help_text = _late(field.verbose_name), _late(field.help_text)


def names_of_records() -> set[str]:
    """Return what records and fields are called in English, for translators."""
    names = {str(words) for model in _models() for words in (model._meta.verbose_name, model._meta.verbose_name_plural)}
    fields = [field for model in _models() for field in _fields(model)]
    return names | {str(words) for field in fields for words in (field.verbose_name, field.help_text) if words}


def field_names() -> set[str]:
    """Return the names of all fields in the code."""
    return {field.name for model in _models() for field in _fields(model)}


def _models() -> Iterator[type[Model]]:
    return (model for model in apps.get_models() if model._meta.app_label in OURS)


def _fields(model: type[Model]) -> list[Field[Any, Any]]:
    return list(model._meta.local_fields)


def _late(words: Any) -> Any:
    # An empty text would be that of the catalogue's head.
    return words if not words or isinstance(words, Promise) else gettext_lazy(words)
