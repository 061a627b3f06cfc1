"""Count sheets: what is to be counted, what was found, what the books said."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0007_desiccant_of_spool_sizes'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='CountSheet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=32, unique=True)),
                ('tolerance_share', models.DecimalField(decimal_places=4, help_text='a difference up to this share of the books needs no second count', max_digits=5)),
                ('opened_at', models.DateTimeField()),
                ('known_at', models.DateTimeField(db_index=True)),
                ('closed_at', models.DateTimeField(blank=True, help_text='what was not settled by then was dropped', null=True)),
                ('opened_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='CountLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('shelf_place', models.CharField(blank=True, help_text='as it was when the sheet was opened', max_length=16)),
                ('value_class', models.CharField(choices=[('A', 'A'), ('B', 'B'), ('C', 'C')], max_length=1)),
                ('state', models.CharField(choices=[('open', 'to be counted'), ('again', 'to be counted again'), ('settled', 'settled'), ('dropped', 'dropped with its sheet')], default='open', max_length=7)),
                ('counted_spools', models.PositiveIntegerField(blank=True, help_text='the count that settled it', null=True)),
                ('book_spools', models.PositiveIntegerField(blank=True, help_text='in the books at that count', null=True)),
                ('settled_at', models.DateTimeField(blank=True, null=True)),
                ('settled_known_at', models.DateTimeField(blank=True, db_index=True, null=True)),
                ('movement', models.OneToOneField(blank=True, help_text='posts the difference; empty: none', null=True, on_delete=django.db.models.deletion.PROTECT, to='inventory.movement')),
                ('sku', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='count_lines', to='inventory.sku')),
                ('sheet', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.countsheet')),
            ],
            options={
                'ordering': ['sheet', 'shelf_place', 'sku'],
            },
        ),
        migrations.CreateModel(
            name='CountEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField(help_text='1: the first count')),
                ('counted_spools', models.PositiveIntegerField()),
                ('book_spools', models.PositiveIntegerField()),
                ('note', models.CharField(blank=True, max_length=100)),
                ('occurred_at', models.DateTimeField()),
                ('known_at', models.DateTimeField()),
                ('counted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('line', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='entries', to='inventory.countline')),
            ],
            options={
                'ordering': ['line', 'number'],
                'constraints': [models.UniqueConstraint(fields=('line', 'number'), name='countentry_one_per_number'), models.CheckConstraint(condition=models.Q(('number__gte', 1)), name='countentry_number_from_one')],
            },
        ),
        migrations.AddConstraint(
            model_name='countsheet',
            constraint=models.CheckConstraint(condition=models.Q(('tolerance_share__gte', 0), ('tolerance_share__lt', 1)), name='countsheet_tolerance_share_range'),
        ),
        migrations.AddConstraint(
            model_name='countsheet',
            constraint=models.CheckConstraint(condition=models.Q(('closed_at__isnull', True), ('closed_at__gte', models.F('opened_at')), _connector='OR'), name='countsheet_closed_after_opening'),
        ),
        migrations.AddConstraint(
            model_name='countline',
            constraint=models.UniqueConstraint(fields=('sheet', 'sku'), name='countline_one_per_sheet_and_sku'),
        ),
        migrations.AddConstraint(
            model_name='countline',
            constraint=models.UniqueConstraint(condition=models.Q(('state__in', ['open', 'again'])), fields=('sku',), name='countline_one_open_per_sku'),
        ),
        migrations.AddConstraint(
            model_name='countline',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('book_spools__isnull', False), ('counted_spools__isnull', False), ('settled_at__isnull', False), ('settled_known_at__gte', models.F('settled_at')), ('state', 'settled')), models.Q(models.Q(('state', 'settled'), _negated=True), ('counted_spools__isnull', True), ('settled_known_at__isnull', True)), _connector='OR'), name='countline_settled_has_its_count'),
        ),
        migrations.AddConstraint(
            model_name='countline',
            constraint=models.CheckConstraint(condition=models.Q(('movement__isnull', True), models.Q(('counted_spools', models.F('book_spools')), _negated=True), _connector='OR'), name='countline_movement_only_for_a_difference'),
        ),
    ]
