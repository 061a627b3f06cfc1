"""What people call these records: names in the admin only, no change of the tables."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [
        ("planner", "0001_initial"),
    ]

    operations = [
        migrations.AlterModelOptions(
            name="forecastrun",
            options={"ordering": ["-as_of", "-id"], "verbose_name": "forecast"},
        ),
        migrations.AlterModelOptions(
            name="listedrun",
            options={
                "ordering": ["make_list", "rank"],
                "verbose_name": "run on a make list",
                "verbose_name_plural": "runs on make lists",
            },
        ),
        migrations.AlterModelOptions(
            name="notlisted",
            options={
                "ordering": ["filament__code"],
                "verbose_name": "filament not listed",
                "verbose_name_plural": "filaments not listed",
            },
        ),
        migrations.AlterModelOptions(
            name="skuforecast",
            options={"verbose_name": "SKU forecast"},
        ),
    ]
