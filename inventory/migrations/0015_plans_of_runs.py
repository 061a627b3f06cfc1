"""Plans of runs keep their history. Of runs from before, the plan that stands now is taken as known since their release."""

import django.db.models.deletion
from django.db import migrations, models


def note_present_plans(apps, schema_editor):
    run, output, run_plan, output_plan = (
        apps.get_model("inventory", name) for name in ("Run", "RunOutput", "RunPlan", "RunOutputPlan")
    )
    run_plan.objects.bulk_create(
        (
            run_plan(
                run=row,
                planned_start=row.planned_start,
                planned_end=row.planned_end,
                drying_from=row.drying_from,
                occurred_at=row.released_at,
                known_at=row.released_known_at,
            )
            for row in run.objects.order_by("id")
        ),
        batch_size=1000,
    )
    output_plan.objects.bulk_create(
        (_output_plan(output_plan, row) for row in output.objects.select_related("run").order_by("id")),
        batch_size=1000,
    )


def _output_plan(output_plan, row):
    # What nobody planned and the line wound all the same is known since the finish.
    at_finish = row.planned == 0 and row.run.finished_known_at is not None
    return output_plan(
        run_output=row,
        planned=row.planned,
        shelf_at=row.shelf_at,
        shelf_day=row.shelf_day,
        occurred_at=row.run.finished_at if at_finish else row.run.released_at,
        known_at=row.run.finished_known_at if at_finish else row.run.released_known_at,
    )


def guard(apps, schema_editor):
    for table in TABLES:
        for statement in GUARD[schema_editor.connection.vendor][0]:
            schema_editor.execute(statement.format(table=table))


def unguard(apps, schema_editor):
    for table in TABLES:
        for statement in GUARD[schema_editor.connection.vendor][1]:
            schema_editor.execute(statement.format(table=table))


TABLES = ("inventory_runplan", "inventory_runoutputplan")
# Both raise an integrity error, as a CHECK would.
GUARD = {
    "sqlite": (
        [
            "CREATE TRIGGER {table}_never_changes BEFORE UPDATE ON {table} "
            "BEGIN SELECT RAISE(ABORT, '{table}_never_changes: note a new plan instead'); END"
        ],
        ["DROP TRIGGER {table}_never_changes"],
    ),
    "postgresql": (
        [
            "CREATE FUNCTION {table}_never_changes() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "RAISE EXCEPTION '{table}_never_changes: note a new plan instead' "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$",
            "CREATE TRIGGER {table}_never_changes BEFORE UPDATE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION {table}_never_changes()",
        ],
        ["DROP TRIGGER {table}_never_changes ON {table}", "DROP FUNCTION {table}_never_changes()"],
    ),
}


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0014_search_moves'),
    ]

    operations = [
        migrations.CreateModel(
            name='RunOutputPlan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('planned', models.PositiveIntegerField()),
                ('shelf_at', models.DateTimeField()),
                ('shelf_day', models.DateField()),
                ('occurred_at', models.DateTimeField()),
                ('known_at', models.DateTimeField()),
                ('run_output', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='plans', to='inventory.runoutput')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='RunPlan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('planned_start', models.DateTimeField()),
                ('planned_end', models.DateTimeField()),
                ('drying_from', models.DateTimeField(blank=True, null=True)),
                ('occurred_at', models.DateTimeField()),
                ('known_at', models.DateTimeField()),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='plans', to='inventory.run')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.RunPython(guard, unguard),
        # Nothing to take back: the tables go with the steps above.
        migrations.RunPython(note_present_plans, migrations.RunPython.noop),
    ]
