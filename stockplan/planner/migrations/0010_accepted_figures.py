"""What the planner took over from finished runs."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0021_version_of_the_plant'),
        ('planner', '0009_announced_demand'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='AcceptedFigures',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('accepted_at', models.DateTimeField()),
                ('learned_to', models.DateTimeField(help_text='runs known by then are in it; later ones teach anew')),
                ('runs', models.PositiveIntegerField()),
                ('availability_before', models.DecimalField(decimal_places=4, max_digits=5)),
                ('availability', models.DecimalField(decimal_places=4, max_digits=5)),
                ('scrap_share_before', models.DecimalField(decimal_places=4, max_digits=5)),
                ('scrap_share', models.DecimalField(decimal_places=4, max_digits=5)),
                ('changeovers', models.JSONField(default=list, help_text='from, to, minutes before and after')),
                ('accepted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL)),
                ('line', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.line')),
            ],
            options={
                'verbose_name_plural': 'accepted figures',
                'ordering': ['-accepted_at', '-id'],
                'constraints': [models.CheckConstraint(condition=models.Q(('learned_to__lte', models.F('accepted_at'))), name='acceptedfigures_learned_before')],
            },
        ),
    ]
