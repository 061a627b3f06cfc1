"""The plant's clock carries a version, so that a process may keep what it has read of it.

The version is drawn at random: one that was rolled back never comes again.
"""

from django.db import migrations, models

# What a calendar is made of, beside the parameters.
TABLES = ("workday", "closure")
RENEW = "UPDATE inventory_plantparameters SET version = ''"
VERSIONS = {
    "sqlite": (
        [
            f"CREATE TRIGGER plantparameters_version_{event} AFTER {event} ON inventory_plantparameters BEGIN "
            "UPDATE inventory_plantparameters SET version = lower(hex(randomblob(16))) WHERE id = NEW.id; END"
            for event in ("insert", "update")
        ]
        + [
            f"CREATE TRIGGER {table}_renews_plant_{event} AFTER {event} ON inventory_{table} BEGIN {RENEW}; END"
            for table in TABLES
            for event in ("insert", "update", "delete")
        ],
        [f"DROP TRIGGER plantparameters_version_{event}" for event in ("insert", "update")]
        + [f"DROP TRIGGER {table}_renews_plant_{event}" for table in TABLES for event in ("insert", "update", "delete")],
    ),
    "postgresql": (
        [
            "CREATE FUNCTION plant_version() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "NEW.version := gen_random_uuid()::text; RETURN NEW; END $$",
            "CREATE TRIGGER plantparameters_version BEFORE INSERT OR UPDATE ON inventory_plantparameters "
            "FOR EACH ROW EXECUTE FUNCTION plant_version()",
            f"CREATE FUNCTION renew_plant() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {RENEW}; RETURN NULL; END $$",
        ]
        + [
            f"CREATE TRIGGER {table}_renews_plant AFTER INSERT OR UPDATE OR DELETE ON inventory_{table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION renew_plant()"
            for table in TABLES
        ],
        [f"DROP TRIGGER {table}_renews_plant ON inventory_{table}" for table in TABLES]
        + ["DROP FUNCTION renew_plant()"]
        + ["DROP TRIGGER plantparameters_version ON inventory_plantparameters", "DROP FUNCTION plant_version()"],
    ),
}


def give_versions(apps, schema_editor):
    for statement in (*VERSIONS[schema_editor.connection.vendor][0], RENEW):
        schema_editor.execute(statement)


def stop_versions(apps, schema_editor):
    for statement in VERSIONS[schema_editor.connection.vendor][1]:
        schema_editor.execute(statement)


class Migration(migrations.Migration):

    dependencies = [("inventory", "0020_orders_kept_for_visitors")]

    operations = [
        migrations.AddField(
            model_name="plantparameters",
            name="version",
            field=models.CharField(
                default="",
                editable=False,
                help_text="another text after each change of parameters, work days or closures; the database sets it",
                max_length=36,
            ),
        ),
        migrations.RunPython(give_versions, stop_versions),
    ]
