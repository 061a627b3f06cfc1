"""A new plant's lists are searched; a plant that is there keeps the work that it has.

The state alone: no default stands in the database, and a table made anew would lose its triggers on SQLite.
"""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0024_line_hopper_and_changeover_of_plans")]

    operations = [
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.AlterField(
                    model_name="plantparameters",
                    name="search_moves",
                    field=models.IntegerField(
                        default=1000,
                        help_text="moves that a make list's search tries for each filament; 0: the list of the index",
                    ),
                )
            ]
        )
    ]
