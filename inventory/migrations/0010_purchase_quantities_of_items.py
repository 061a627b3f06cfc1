"""Pack size and least quantity of what is bought."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0009_order_target_share"),
    ]

    operations = [
        migrations.AddField(
            model_name="item",
            name="pack_size",
            field=models.DecimalField(
                blank=True,
                decimal_places=3,
                help_text="in the item's unit; empty: any quantity",
                max_digits=10,
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="item",
            name="supplier_minimum",
            field=models.DecimalField(
                decimal_places=3,
                default=0,
                help_text="least quantity of a purchase, in the item's unit",
                max_digits=10,
            ),
        ),
        migrations.AddConstraint(
            model_name="item",
            constraint=models.CheckConstraint(
                condition=(Q(pack_size__isnull=True) | Q(pack_size__gt=0)) & Q(supplier_minimum__gte=0),
                name="item_purchase_quantities_sound",
            ),
        ),
    ]
