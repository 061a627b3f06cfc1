"""Diameters and masses of runs as they were measured."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0005_names_of_records'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='DiameterReport',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('source', models.CharField(choices=[('gauge', 'gauge of the line'), ('hand', 'by hand')], max_length=5)),
                ('lower_mm', models.DecimalField(decimal_places=4, max_digits=6)),
                ('upper_mm', models.DecimalField(decimal_places=4, max_digits=6)),
                ('outside_readings', models.PositiveIntegerField(help_text='readings with an axis outside the limits')),
                ('document', models.CharField(blank=True, help_text='file of the gauge, sheet of the floor', max_length=80)),
                ('occurred_at', models.DateTimeField(help_text='when the last of them was taken')),
                ('known_at', models.DateTimeField(db_index=True)),
                ('posted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('run', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='diameter_reports', to='inventory.run')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='DiameterReading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveIntegerField()),
                ('x_mm', models.DecimalField(decimal_places=4, max_digits=6)),
                ('y_mm', models.DecimalField(blank=True, decimal_places=4, max_digits=6, null=True)),
                ('report', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='inventory.diameterreport')),
            ],
            options={
                'ordering': ['report', 'number'],
            },
        ),
        migrations.CreateModel(
            name='SpoolWeighing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('gross_g', models.DecimalField(decimal_places=1, max_digits=9)),
                ('tare_g', models.PositiveIntegerField()),
                ('occurred_at', models.DateTimeField()),
                ('known_at', models.DateTimeField(db_index=True)),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='weighings', to='inventory.lot')),
                ('posted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.AddConstraint(
            model_name='diameterreport',
            constraint=models.CheckConstraint(condition=models.Q(('lower_mm__lt', models.F('upper_mm'))), name='diameterreport_limits_ordered'),
        ),
        migrations.AddConstraint(
            model_name='diameterreading',
            constraint=models.UniqueConstraint(fields=('report', 'number'), name='diameterreading_one_per_number'),
        ),
        migrations.AddConstraint(
            model_name='diameterreading',
            constraint=models.CheckConstraint(condition=models.Q(('x_mm__gt', 0), models.Q(('y_mm__isnull', True), ('y_mm__gt', 0), _connector='OR')), name='diameterreading_positive'),
        ),
        migrations.AddConstraint(
            model_name='spoolweighing',
            constraint=models.CheckConstraint(condition=models.Q(('gross_g__gt', models.F('tare_g'))), name='spoolweighing_above_tare'),
        ),
    ]
