"""What makes demand differ on some days, announced beforehand."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0018_what_line_and_hopper_held'),
        ('planner', '0008_stored_replays'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='AnnouncedDemand',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80)),
                ('first_day', models.DateField()),
                ('last_day', models.DateField()),
                ('factor', models.DecimalField(decimal_places=2, help_text='demand on these days over the usual', max_digits=5)),
                ('created_at', models.DateTimeField()),
                ('withdrawn_at', models.DateTimeField(blank=True, null=True)),
                ('created_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL)),
                ('filament', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.filament')),
                ('material', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.material')),
            ],
            options={
                'verbose_name_plural': 'announced demand',
                'ordering': ['first_day', 'id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('first_day__lte', models.F('last_day'))), name='announceddemand_days_ordered'), models.CheckConstraint(condition=models.Q(('factor__gt', 0)), name='announceddemand_factor_positive'), models.CheckConstraint(condition=models.Q(('material__isnull', True), ('filament__isnull', True), _connector='OR'), name='announceddemand_one_scope')],
            },
        ),
    ]
