"""Work of the search that improves a make list, for each filament."""

from django.db import migrations, models
from django.db.models import Q


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0013_stored_answers"),
    ]

    operations = [
        migrations.AddField(
            model_name="plantparameters",
            name="search_moves",
            field=models.IntegerField(
                default=0, help_text="moves that a make list's search tries for each filament; 0: the list of the index"
            ),
        ),
        migrations.AddConstraint(
            model_name="plantparameters",
            constraint=models.CheckConstraint(
                condition=Q(search_moves__gte=0), name="plantparameters_search_not_negative"
            ),
        ),
    ]
