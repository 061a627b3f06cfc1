"""Why a replay came to nothing is kept as a template with its values; what was written before stays in English."""

import json

from django.db import migrations, models
from django.db.models import Q


def as_messages(apps, schema_editor):
    """A text becomes the only value of a message; an empty one becomes null."""
    for row in apps.get_model("planner", "AskedReplay").objects.exclude(failure=""):
        row.why = {"template": "{text}", "values": {"text": row.failure}, "plural": ""}
        row.save(update_fields=["why"])


def as_texts(apps, schema_editor):
    """Say every message in English."""
    # Going back needs the words as they are today.
    from stockplan.planner.models.messages import MessageDecoder

    for row in apps.get_model("planner", "AskedReplay").objects.exclude(why=None):
        row.failure = str(json.loads(json.dumps(row.why), cls=MessageDecoder))
        row.save(update_fields=["failure"])


class Migration(migrations.Migration):
    dependencies = [("planner", "0016_messages_for_every_language")]

    operations = [
        migrations.RemoveConstraint(model_name="askedreplay", name="askedreplay_fails_when_it_ends"),
        migrations.AddField(
            model_name="askedreplay",
            name="why",
            field=models.JSONField(blank=True, help_text="empty if it came to its end", null=True),
        ),
        migrations.AlterField(
            model_name="askedreplay", name="failure", field=models.TextField(blank=True, default="")
        ),
        migrations.RunPython(as_messages, as_texts),
        migrations.RemoveField(model_name="askedreplay", name="failure"),
        migrations.RenameField(model_name="askedreplay", old_name="why", new_name="failure"),
        migrations.AddConstraint(
            model_name="askedreplay",
            constraint=models.CheckConstraint(
                condition=Q(failure__isnull=True) | Q(ended_at__isnull=False), name="askedreplay_fails_when_it_ends"
            ),
        ),
    ]
