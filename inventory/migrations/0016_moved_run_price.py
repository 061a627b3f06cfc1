"""What moving a released run must avoid."""

from decimal import Decimal

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0015_plans_of_runs"),
    ]

    operations = [
        migrations.AddField(
            model_name="plantparameters",
            name="moved_run_price",
            field=models.DecimalField(
                decimal_places=2,
                default=Decimal(2),
                help_text="misses that planning released runs anew must avoid for each one that moves",
                max_digits=6,
            ),
        ),
        migrations.AddConstraint(
            model_name="plantparameters",
            constraint=models.CheckConstraint(
                condition=Q(moved_run_price__gte=0), name="plantparameters_moved_run_price_not_negative"
            ),
        ),
    ]
