"""Replays of past days, kept for their page."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("planner", "0007_track_records_of_skus"),
    ]

    operations = [
        migrations.CreateModel(
            name="StoredReplay",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("policy", models.CharField(max_length=20)),
                (
                    "is_curve",
                    models.BooleanField(help_text="rows are points of an exchange curve, else weeks and their total"),
                ),
                ("first_day", models.DateField()),
                ("last_day", models.DateField()),
                ("computed_at", models.DateTimeField()),
                ("conditions", models.JSONField(help_text="sentences")),
                (
                    "rows",
                    models.JSONField(help_text="label, days, orders, lines, units, stock and line use of each row"),
                ),
            ],
            options={
                "ordering": ["-computed_at", "-id"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("first_day__lte", models.F("last_day"))), name="storedreplay_days_ordered"
                    )
                ],
            },
        ),
    ]
