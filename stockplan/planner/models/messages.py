"""Messages as JSON: template and values, so that every reader has them in their own language."""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import Any

from django.db import models

from forecasting.messages import Message

# No field of a template is called so.
DAY, INSTANT = "$day", "$instant"
FIELDS = {"template", "values", "plural"}


class MessageEncoder(json.JSONEncoder):
    """Writes messages and the days and instants among their values."""

    def default(self, o: Any) -> Any:
        """Return what stands for a value that JSON has not."""
        match o:
            case Message():
                return {"template": o.template, "values": o.values, "plural": o.plural}
            case datetime():
                return {INSTANT: o.isoformat()}
            case date():
                return {DAY: o.isoformat()}
        return super().default(o)


class MessageDecoder(json.JSONDecoder):
    """Reads what `MessageEncoder` wrote."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{**options, "object_hook": _read})


class MessageField(models.JSONField):
    """One message, or a list of them."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{**kwargs, "encoder": MessageEncoder, "decoder": MessageDecoder})

    def deconstruct(self) -> Any:
        """Show migrations what the database sees: plain JSON."""
        name, _path, args, kwargs = super().deconstruct()
        plain = {key: value for key, value in kwargs.items() if key not in {"encoder", "decoder"}}
        return name, "django.db.models.JSONField", args, plain


def _read(row: dict[str, Any]) -> Any:
    if row.keys() == FIELDS:
        values = {name: tuple(value) if isinstance(value, list) else value for name, value in row["values"].items()}
        return Message(row["template"], values, row["plural"])
    if row.keys() == {DAY}:
        return date.fromisoformat(row[DAY])
    if row.keys() == {INSTANT}:
        return datetime.fromisoformat(row[INSTANT])
    return row
