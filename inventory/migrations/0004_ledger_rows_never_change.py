"""Rows of the ledger and changes of order lines are facts: the database refuses to update them.

Deletes are not guarded: every key to these rows is PROTECT, and the flush of a transactional test deletes them.
"""

from django.db import migrations

GUARDED = ("movement", "movementline", "orderlinechange")


def guard(apps, schema_editor):
    for model in GUARDED:
        table = apps.get_model("inventory", model)._meta.db_table
        for statement in STATEMENTS[schema_editor.connection.vendor][0]:
            schema_editor.execute(statement.format(table=table))


def unguard(apps, schema_editor):
    for model in GUARDED:
        table = apps.get_model("inventory", model)._meta.db_table
        for statement in STATEMENTS[schema_editor.connection.vendor][1]:
            schema_editor.execute(statement.format(table=table))


# Both raise an integrity error (SQLite: constraint failed by RAISE; PostgreSQL: class 23), as a CHECK would.
STATEMENTS = {
    "sqlite": (
        [
            "CREATE TRIGGER {table}_never_changes BEFORE UPDATE ON {table} "
            "BEGIN SELECT RAISE(ABORT, '{table}_never_changes: post a new row instead'); END"
        ],
        ["DROP TRIGGER {table}_never_changes"],
    ),
    "postgresql": (
        [
            "CREATE FUNCTION {table}_never_changes() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "RAISE EXCEPTION '{table}_never_changes: post a new row instead' "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$",
            "CREATE TRIGGER {table}_never_changes BEFORE UPDATE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION {table}_never_changes()",
        ],
        ["DROP TRIGGER {table}_never_changes ON {table}", "DROP FUNCTION {table}_never_changes()"],
    ),
}


class Migration(migrations.Migration):
    dependencies = [("inventory", "0003_run_names_who_released_and_started_it")]

    operations = [migrations.RunPython(guard, unguard)]
