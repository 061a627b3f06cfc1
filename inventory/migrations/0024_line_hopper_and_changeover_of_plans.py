"""The history of a run's plan tells line, hopper and changeover as well.

Until now nothing changed them after the release: of the plans noted so far they are those of the run.
"""

from decimal import Decimal

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery

TABLE = "inventory_runplan"
SAME = ("line_id", "hopper_id", "changeover_from_id", "changeover_min", "planned_purge_kg")


def fill_in(apps, schema_editor):
    run, run_plan = (apps.get_model("inventory", name) for name in ("Run", "RunPlan"))
    of_run = run.objects.filter(pk=OuterRef("run_id"))
    run_plan.objects.update(**{name: Subquery(of_run.values(name)[:1]) for name in SAME})


def guard(apps, schema_editor):
    for statement in GUARD[schema_editor.connection.vendor][0]:
        schema_editor.execute(statement.format(table=TABLE))


def unguard(apps, schema_editor):
    for statement in GUARD[schema_editor.connection.vendor][1]:
        schema_editor.execute(statement.format(table=TABLE))


# SQLite loses the trigger with every rebuilt table, so it is always made anew.
GUARD = {
    "sqlite": (
        [
            "CREATE TRIGGER {table}_never_changes BEFORE UPDATE ON {table} "
            "BEGIN SELECT RAISE(ABORT, '{table}_never_changes: note a new plan instead'); END"
        ],
        ["DROP TRIGGER IF EXISTS {table}_never_changes"],
    ),
    "postgresql": (
        [
            "CREATE TRIGGER {table}_never_changes BEFORE UPDATE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION {table}_never_changes()"
        ],
        ["DROP TRIGGER {table}_never_changes ON {table}"],
    ),
}


def link(to, **more):
    return models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to=to, **more)


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0023_gauge_files_told_again"),
    ]

    operations = [
        migrations.RunPython(unguard, guard),
        migrations.AddField("runplan", "line", link("inventory.line", null=True)),
        migrations.AddField("runplan", "hopper", link("inventory.hopper", blank=True, null=True)),
        migrations.AddField("runplan", "changeover_from", link("inventory.filament", blank=True, null=True)),
        migrations.AddField(
            "runplan", "changeover_min", models.DecimalField(decimal_places=1, default=Decimal(0), max_digits=7)
        ),
        migrations.AddField(
            "runplan", "planned_purge_kg", models.DecimalField(decimal_places=3, default=Decimal(0), max_digits=9)
        ),
        # Nothing to take back: the columns go with the steps above.
        migrations.RunPython(fill_in, migrations.RunPython.noop),
        migrations.AlterField("runplan", "line", link("inventory.line")),
        migrations.RunPython(guard, unguard),
    ]
