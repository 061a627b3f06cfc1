"""Money has a currency. SQLite makes the table anew: the triggers that name it are dropped for that and set again."""

from importlib import import_module

from django.db import migrations, models
from django.db.models import Q

SET, DROPPED = import_module("inventory.migrations.0021_version_of_the_plant").VERSIONS["sqlite"]


def drop_triggers(apps, schema_editor):
    _on_sqlite(schema_editor, DROPPED)


def set_triggers(apps, schema_editor):
    _on_sqlite(schema_editor, SET)


def _on_sqlite(schema_editor, statements):
    if schema_editor.connection.vendor == "sqlite":
        for statement in statements:
            schema_editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0026_ticks_of_changeover_steps")]

    operations = [
        migrations.RunPython(drop_triggers, set_triggers),
        migrations.AddField(
            model_name="plantparameters",
            name="currency",
            field=models.CharField(default="EUR", help_text="ISO 4217 code", max_length=3),
        ),
        migrations.AddConstraint(
            model_name="plantparameters",
            constraint=models.CheckConstraint(
                condition=Q(currency__regex=r"^[A-Z]{3}$"), name="plantparameters_currency_is_a_code"
            ),
        ),
        migrations.RunPython(set_triggers, drop_triggers),
    ]
