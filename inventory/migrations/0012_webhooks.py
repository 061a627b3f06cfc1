"""Webhooks: receivers, their secrets, the outbox and its deliveries."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0011_ledger_seals'),
    ]

    operations = [
        migrations.CreateModel(
            name='WebhookMessage',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(help_text='webhook-id, the same in every attempt', max_length=40, unique=True)),
                ('event', models.CharField(max_length=40)),
                ('body', models.TextField(help_text='the very text that is signed and sent')),
                ('created_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='WebhookEndpoint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=40, unique=True)),
                ('url', models.CharField(max_length=500)),
                ('events', models.JSONField(default=list, help_text='what it is told of')),
                ('is_active', models.BooleanField(default=True, help_text='off: its deliveries wait')),
                ('created_at', models.DateTimeField()),
                ('channel', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.channel')),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.CreateModel(
            name='WebhookDelivery',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('state', models.CharField(choices=[('pending', 'waiting to be sent'), ('delivered', 'delivered'), ('dead', 'given up')], default='pending', max_length=9)),
                ('attempts', models.PositiveSmallIntegerField(default=0, help_text='since it was written or sent again')),
                ('next_attempt_at', models.DateTimeField(blank=True, null=True)),
                ('last_attempt_at', models.DateTimeField(blank=True, null=True)),
                ('last_status', models.PositiveSmallIntegerField(blank=True, help_text='HTTP status of the last answer', null=True)),
                ('last_error', models.CharField(blank=True, max_length=200)),
                ('endpoint', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='deliveries', to='inventory.webhookendpoint')),
                ('message', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='deliveries', to='inventory.webhookmessage')),
            ],
            options={
                'verbose_name_plural': 'webhook deliveries',
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='WebhookSecret',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('salt', models.CharField(max_length=64)),
                ('created_at', models.DateTimeField()),
                ('expires_at', models.DateTimeField(blank=True, help_text='empty: the present one', null=True)),
                ('endpoint', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='secrets', to='inventory.webhookendpoint')),
            ],
            options={
                'ordering': ['-created_at', '-id'],
            },
        ),
        migrations.AddConstraint(
            model_name='webhookendpoint',
            constraint=models.CheckConstraint(condition=models.Q(('url__startswith', 'https://'), ('url__startswith', 'http://'), _connector='OR'), name='webhookendpoint_url_scheme'),
        ),
        migrations.AddIndex(
            model_name='webhookdelivery',
            index=models.Index(condition=models.Q(('state', 'pending')), fields=['next_attempt_at'], name='webhookdelivery_due'),
        ),
        migrations.AddConstraint(
            model_name='webhookdelivery',
            constraint=models.UniqueConstraint(fields=('message', 'endpoint'), name='webhookdelivery_one_per_message_and_endpoint'),
        ),
        migrations.AddConstraint(
            model_name='webhookdelivery',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('next_attempt_at__isnull', False), ('state', 'pending')), models.Q(models.Q(('state', 'pending'), _negated=True), ('next_attempt_at__isnull', True)), _connector='OR'), name='webhookdelivery_pending_has_its_time'),
        ),
        migrations.AddConstraint(
            model_name='webhooksecret',
            constraint=models.UniqueConstraint(condition=models.Q(('expires_at__isnull', True)), fields=('endpoint',), name='webhooksecret_one_present_per_endpoint'),
        ),
        migrations.AddConstraint(
            model_name='webhooksecret',
            constraint=models.CheckConstraint(condition=models.Q(('expires_at__isnull', True), ('expires_at__gt', models.F('created_at')), _connector='OR'), name='webhooksecret_expires_after_creation'),
        ),
    ]
