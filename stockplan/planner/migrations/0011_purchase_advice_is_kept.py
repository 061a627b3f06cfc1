"""What there is to buy, kept for its page and the owner's."""

import django.core.serializers.json
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("planner", "0010_accepted_figures"),
    ]

    operations = [
        migrations.CreateModel(
            name="PurchaseAdvice",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("computed_at", models.DateTimeField()),
                (
                    "rows",
                    models.JSONField(
                        encoder=django.core.serializers.json.DjangoJSONEncoder,
                        help_text="one purchase each, the most urgent first",
                    ),
                ),
                (
                    "forecast_run",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="planner.forecastrun"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "purchase advice",
                "ordering": ["-computed_at", "-id"],
            },
        ),
    ]
