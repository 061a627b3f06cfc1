"""Reasons and assumptions are kept as templates with their values; what was written before stays in English."""

import json

from django.db import migrations, models

TEXTS = [
    ("ListedRun", "reason"),
    ("MakeList", "limit"),
    ("NotListed", "sentence"),
    ("SkuForecast", "reason"),
    ("StockTarget", "reason"),
]
LISTS = [("ListedRun", "explanation"), ("MakeList", "assumptions"), ("StoredReplay", "conditions")]
ROWS = 1_000


def as_messages(apps, schema_editor):
    """A text becomes the only value of a message; an empty one becomes null."""
    for model, field in TEXTS:
        _change(apps, model, field, lambda text: json.dumps(_message(text)) if text else None)
    for model, field in LISTS:
        _change(apps, model, field, lambda texts: [_message(text) for text in texts])
    _check_keys_now(schema_editor)


def as_texts(apps, schema_editor):
    """Say every message in English."""
    # Going back needs the words as they are today.
    from stockplan.planner.models.messages import MessageDecoder

    for model, field in TEXTS:
        _change(apps, model, field, lambda row: "" if row is None else str(json.loads(row, cls=MessageDecoder)))
    for model, field in LISTS:
        _change(apps, model, field, lambda rows: [str(json.loads(json.dumps(r), cls=MessageDecoder)) for r in rows])
    _check_keys_now(schema_editor)


def _check_keys_now(schema_editor):
    """Leave no check of a key for the end of the transaction: PostgreSQL alters no table that one waits for."""
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def _message(text):
    return {"template": "{text}", "values": {"text": text}, "plural": ""}


def _change(apps, model, field, change):
    rows_of = apps.get_model("planner", model).objects
    rows = []
    for row in rows_of.only("pk", field).order_by("pk").iterator(chunk_size=ROWS):
        setattr(row, field, change(getattr(row, field)))
        rows.append(row)
        if len(rows) == ROWS:
            rows_of.bulk_update(rows, [field])
            rows = []
    rows_of.bulk_update(rows, [field])


def _fields(make):
    return [
        migrations.AlterField(
            model_name=model.lower(), name=field, field=make(**({"null": True} if field == "limit" else {}), **HELP.get(field, {}))
        )
        for model, field in TEXTS
    ]


HELP = {"limit": {"help_text": "what limits the list most on its days; null: not counted then"}}


class Migration(migrations.Migration):
    dependencies = [
        ("planner", "0015_places_of_pins"),
    ]

    operations = [
        *_fields(models.TextField),
        migrations.RunPython(as_messages, as_texts),
        *_fields(models.JSONField),
    ]
