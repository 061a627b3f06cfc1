"""The share of orders to ship complete, from which every SKU's own target follows."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0008_count_sheets"),
    ]

    operations = [
        migrations.AddField(
            model_name="plantparameters",
            name="order_target_share",
            field=models.DecimalField(
                blank=True,
                decimal_places=4,
                help_text="share of orders to ship complete on their due day; empty: every SKU has one target",
                max_digits=5,
                null=True,
            ),
        ),
        migrations.AddConstraint(
            model_name="plantparameters",
            constraint=models.CheckConstraint(
                condition=Q(order_target_share__isnull=True) | Q(order_target_share__gt=0, order_target_share__lt=1),
                name="plantparameters_order_target_range",
            ),
        ),
    ]
