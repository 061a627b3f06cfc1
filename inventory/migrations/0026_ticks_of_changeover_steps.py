"""The steps of changeovers are ticked in the books: rows that never change."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def guard(apps, schema_editor):
    for statement in GUARD[schema_editor.connection.vendor][0]:
        schema_editor.execute(statement)


def unguard(apps, schema_editor):
    for statement in GUARD[schema_editor.connection.vendor][1]:
        schema_editor.execute(statement)


# Both raise an integrity error, as a CHECK would.
GUARD = {
    "sqlite": (
        [
            "CREATE TRIGGER inventory_steptick_never_changes BEFORE UPDATE ON inventory_steptick "
            "BEGIN SELECT RAISE(ABORT, 'inventory_steptick_never_changes: take the tick back instead'); END"
        ],
        ["DROP TRIGGER inventory_steptick_never_changes"],
    ),
    "postgresql": (
        [
            "CREATE FUNCTION inventory_steptick_never_changes() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "RAISE EXCEPTION 'inventory_steptick_never_changes: take the tick back instead' "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$",
            "CREATE TRIGGER inventory_steptick_never_changes BEFORE UPDATE ON inventory_steptick "
            "FOR EACH ROW EXECUTE FUNCTION inventory_steptick_never_changes()",
        ],
        [
            "DROP TRIGGER inventory_steptick_never_changes ON inventory_steptick",
            "DROP FUNCTION inventory_steptick_never_changes()",
        ],
    ),
}


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0025_lists_are_searched'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='StepTick',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('step', models.CharField(choices=[('resin', 'Resin and its lot checked'), ('concentrate', 'Concentrate and its lot checked'), ('drying', 'Resin dried for its hours'), ('data_sheets', 'Data sheets of both materials read: temperatures, purging, what must not meet'), ('purge', 'Line purged, nothing left of what it held'), ('lighter', 'No streak of the darker colour in the strand'), ('setting', 'Die, puller and gauge set for the new diameter'), ('diameter', 'Diameter in tolerance before the first spool')], max_length=11)),
                ('turn', models.PositiveSmallIntegerField(help_text='odd: ticked, even: taken back')),
                ('occurred_at', models.DateTimeField()),
                ('known_at', models.DateTimeField()),
                ('posted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='step_ticks', to='inventory.run')),
            ],
            options={
                'verbose_name_plural': 'ticks of changeover steps',
                'ordering': ['run', 'step', 'turn'],
                'constraints': [models.UniqueConstraint(fields=('run', 'step', 'turn'), name='steptick_one_per_turn'), models.CheckConstraint(condition=models.Q(('turn__gte', 1)), name='steptick_turns_from_one')],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
