"""The readings of a gauge are known again by their digest. Reports that were posted twice before stay as they are."""

import hashlib

from django.db import migrations, models


def digest_gauge_reports(apps, schema_editor):
    """Fill in the digest of the first report of each run with those readings; a repeat from before keeps none."""
    report_model = apps.get_model("inventory", "DiameterReport")
    seen = set()
    for report in report_model.objects.filter(source="gauge").order_by("id").iterator():
        readings = report.readings.order_by("number").values_list("x_mm", "y_mm")
        rows = (f"{x:.4f},{'' if y is None else f'{y:.4f}'}" for x, y in readings)
        digest = hashlib.sha256("\n".join(rows).encode()).hexdigest()
        if (report.run_id, digest) not in seen:
            seen.add((report.run_id, digest))
            report_model.objects.filter(pk=report.pk).update(gauge_digest=digest)


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0022_carts'),
    ]

    operations = [
        migrations.AddField(
            model_name='diameterreport',
            name='gauge_digest',
            field=models.CharField(editable=False, help_text='SHA-256 of the readings of a gauge, to tell its file again', max_length=64, null=True),
        ),
        migrations.RunPython(digest_gauge_reports, migrations.RunPython.noop, elidable=True),
        migrations.AddConstraint(
            model_name='diameterreport',
            constraint=models.UniqueConstraint(fields=('run', 'gauge_digest'), name='diameterreport_gauge_readings_once_per_run'),
        ),
    ]
