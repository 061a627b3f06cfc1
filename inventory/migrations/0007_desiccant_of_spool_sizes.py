"""The desiccant that is packed with the spools of a size."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0006_quality_of_runs"),
    ]

    operations = [
        migrations.AddField(
            model_name="spoolsize",
            name="desiccant_item",
            field=models.ForeignKey(
                blank=True,
                help_text="one piece goes into each box",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="inventory.item",
            ),
        ),
    ]
