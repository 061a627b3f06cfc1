"""Answers kept for clients that repeat a POST under its Idempotency-Key."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0012_webhooks"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="StoredAnswer",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("key", models.CharField(max_length=255)),
                (
                    "request_digest",
                    models.CharField(help_text="SHA-256 of address and body, to tell a repeat", max_length=64),
                ),
                ("status", models.PositiveSmallIntegerField()),
                ("body", models.TextField(help_text="JSON")),
                ("created_at", models.DateTimeField(db_index=True)),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("user", "key"), name="storedanswer_one_per_user_and_key")
                ],
            },
        ),
    ]
