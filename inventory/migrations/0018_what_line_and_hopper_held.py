"""A run keeps what its line and its hopper held when it started. Of runs from before, the run before them tells."""

import django.db.models.deletion
from django.db import migrations, models


def note_what_was_held(apps, schema_editor):
    run_model = apps.get_model("inventory", "Run")
    line_held, hopper_held = {}, {}
    for run in run_model.objects.filter(started_at__isnull=False).select_related("filament").order_by("started_at", "id"):
        run.line_held_id = line_held.get(run.line_id)
        line_held[run.line_id] = run.filament_id
        if run.hopper_id is not None:
            run.hopper_held_id, run.hopper_dried_since = hopper_held.get(run.hopper_id, (None, None))
            hopper_held[run.hopper_id] = (run.filament.material_id, run.drying_from)
        run.save(update_fields=["line_held", "hopper_held", "hopper_dried_since"])


class Migration(migrations.Migration):

    dependencies = [("inventory", "0017_change_numbers_of_stock")]

    operations = [
        migrations.AddField(
            model_name="run",
            name="line_held",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="inventory.filament"
            ),
        ),
        migrations.AddField(
            model_name="run",
            name="hopper_held",
            field=models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="inventory.material"
            ),
        ),
        migrations.AddField(
            model_name="run", name="hopper_dried_since", field=models.DateTimeField(blank=True, null=True)
        ),
        # The columns go with the steps above.
        migrations.RunPython(note_what_was_held, migrations.RunPython.noop),
    ]
