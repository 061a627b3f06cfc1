"""What people call these records: names in the admin only, no change of the tables."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0004_ledger_rows_never_change"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="item",
            options={
                "ordering": ["code"],
                "verbose_name": "raw material or part",
                "verbose_name_plural": "raw materials and parts",
            },
        ),
        migrations.AlterModelOptions(
            name="shelfstock",
            options={"verbose_name_plural": "shelf stock"},
        ),
    ]
