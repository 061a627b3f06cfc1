"""Seals of the ledger: written once, refused by the database when they would change."""

from django.db import migrations, models
from django.db.models import F, Q

TABLE = "inventory_ledgerseal"
# As in 0004: an integrity error on both databases.
STATEMENTS = {
    "sqlite": (
        [
            f"CREATE TRIGGER {TABLE}_never_changes BEFORE UPDATE ON {TABLE} "
            f"BEGIN SELECT RAISE(ABORT, '{TABLE}_never_changes: seal again instead'); END"
        ],
        [f"DROP TRIGGER {TABLE}_never_changes"],
    ),
    "postgresql": (
        [
            f"CREATE FUNCTION {TABLE}_never_changes() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            f"RAISE EXCEPTION '{TABLE}_never_changes: seal again instead' "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$",
            f"CREATE TRIGGER {TABLE}_never_changes BEFORE UPDATE ON {TABLE} "
            f"FOR EACH ROW EXECUTE FUNCTION {TABLE}_never_changes()",
        ],
        [f"DROP TRIGGER {TABLE}_never_changes ON {TABLE}", f"DROP FUNCTION {TABLE}_never_changes()"],
    ),
}


def guard(apps, schema_editor):
    for statement in STATEMENTS[schema_editor.connection.vendor][0]:
        schema_editor.execute(statement)


def unguard(apps, schema_editor):
    for statement in STATEMENTS[schema_editor.connection.vendor][1]:
        schema_editor.execute(statement)


class Migration(migrations.Migration):
    dependencies = [("inventory", "0010_purchase_quantities_of_items")]

    operations = [
        migrations.CreateModel(
            name="LedgerSeal",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("number", models.PositiveIntegerField()),
                (
                    "first_id",
                    models.PositiveBigIntegerField(help_text="first id of a movement that it answers for"),
                ),
                ("last_id", models.PositiveBigIntegerField()),
                (
                    "open_ranges",
                    models.JSONField(default=list, help_text="first and last of ids that no movement had then"),
                ),
                (
                    "late_ids",
                    models.JSONField(default=list, help_text="ids that earlier seals left open and that it seals"),
                ),
                ("root", models.CharField(help_text="Merkle root over the movements", max_length=64)),
                ("previous_hash", models.CharField(max_length=64)),
                ("seal_hash", models.CharField(max_length=64)),
                ("sealed_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["number"],
                "constraints": [
                    models.UniqueConstraint(fields=("number",), name="ledgerseal_one_per_number"),
                    models.CheckConstraint(condition=Q(number__gte=1), name="ledgerseal_number_from_one"),
                    models.CheckConstraint(condition=Q(last_id__gte=F("first_id") - 1), name="ledgerseal_ids_ordered"),
                ],
            },
        ),
        migrations.RunPython(guard, unguard),
    ]
