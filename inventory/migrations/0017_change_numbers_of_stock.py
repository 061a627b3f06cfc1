"""Every change of a stock row carries the number of the transaction that made it, for readers that follow changes."""

from django.db import migrations, models

# PostgreSQL numbers transactions as they begin to write, SQLite has one writer at a time. So on both, once every
# transaction below a number is over, no row with a smaller number can still appear.
NUMBER = {
    "sqlite": (
        [
            f"CREATE TRIGGER shelfstock_numbers_{when} AFTER {event} ON inventory_shelfstock BEGIN "
            "UPDATE inventory_shelfstock SET change_no = (SELECT MAX(change_no) + 1 FROM inventory_shelfstock) "
            "WHERE sku_id = NEW.sku_id; END"
            for when, event in (("insert", "INSERT"), ("update", "UPDATE OF on_shelf, allocated, changed_at"))
        ],
        ["DROP TRIGGER shelfstock_numbers_insert", "DROP TRIGGER shelfstock_numbers_update"],
    ),
    "postgresql": (
        [
            "CREATE FUNCTION shelfstock_numbers() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "NEW.change_no := pg_current_xact_id()::text::bigint; RETURN NEW; END $$",
            "CREATE TRIGGER shelfstock_numbers BEFORE INSERT OR UPDATE ON inventory_shelfstock "
            "FOR EACH ROW EXECUTE FUNCTION shelfstock_numbers()",
        ],
        ["DROP TRIGGER shelfstock_numbers ON inventory_shelfstock", "DROP FUNCTION shelfstock_numbers()"],
    ),
}


def number(apps, schema_editor):
    for statement in NUMBER[schema_editor.connection.vendor][0]:
        schema_editor.execute(statement)


def stop_numbering(apps, schema_editor):
    for statement in NUMBER[schema_editor.connection.vendor][1]:
        schema_editor.execute(statement)


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0016_moved_run_price'),
    ]

    operations = [
        migrations.AddField(
            model_name='shelfstock',
            name='change_no',
            field=models.BigIntegerField(db_index=True, default=0, editable=False, help_text='of the transaction that changed the row last; the database sets it'),
        ),
        migrations.RunPython(number, stop_numbering),
    ]
