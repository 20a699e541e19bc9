import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('properties', '__first__'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Reading',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('quantity', models.CharField(max_length=40)),
                ('value', models.FloatField()),
                ('unit', models.CharField(max_length=20)),
                ('taken_on', models.DateField()),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('thing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='properties.installedthing')),
            ],
            options={
                'ordering': ['-taken_on', '-id'],
            },
        ),
        migrations.CreateModel(
            name='CareTask',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('rule', models.CharField(max_length=60)),
                ('stem', models.CharField(max_length=20)),
                ('series', models.CharField(max_length=100)),
                ('occurrence', models.CharField(max_length=30)),
                ('key', models.CharField(max_length=140)),
                ('title', models.CharField(max_length=160)),
                ('title_es', models.CharField(max_length=160)),
                ('opens_on', models.DateField()),
                ('due_on', models.DateField()),
                ('closes_on', models.DateField()),
                ('minutes', models.PositiveIntegerField()),
                ('people', models.PositiveSmallIntegerField(default=1)),
                ('skill', models.CharField(max_length=40)),
                ('cautions', models.JSONField(default=list)),
                ('details', models.JSONField(default=dict, help_text='numbers by name, and lines in en and es')),
                ('state', models.CharField(choices=[('open', 'Open'), ('done', 'Done'), ('skipped', 'Skipped'), ('withdrawn', 'Withdrawn')], default='open', max_length=10)),
                ('held', models.BooleanField(default=False, help_text='The office keeps this window as it is')),
                ('settled_on', models.DateField(blank=True, null=True)),
                ('skip_reason', models.CharField(blank=True, max_length=200)),
                ('revision', models.PositiveIntegerField(default=0)),
                ('changed_at', models.DateTimeField()),
                ('property', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='care_tasks', to='properties.property')),
                ('thing', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='care_tasks', to='properties.installedthing')),
            ],
            options={
                'ordering': ['due_on', 'id'],
                'indexes': [models.Index(fields=['state', 'due_on'], name='task_state_due'), models.Index(fields=['property', 'series'], name='task_series')],
                'constraints': [models.UniqueConstraint(fields=('property', 'key'), name='task_key_unique_on_property'), models.CheckConstraint(condition=models.Q(('closes_on__gte', models.F('due_on')), ('due_on__gte', models.F('opens_on'))), name='task_window_in_order'), models.CheckConstraint(condition=models.Q(models.Q(('settled_on__isnull', False), ('state__in', ('done', 'skipped'))), models.Q(models.Q(('state__in', ('done', 'skipped')), _negated=True), ('settled_on__isnull', True)), _connector='OR'), name='task_settled_has_day')],
            },
        ),
        migrations.CreateModel(
            name='RuleAdjustment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('rule', models.CharField(max_length=60)),
                ('enabled', models.BooleanField(null=True)),
                ('every_days', models.PositiveIntegerField(null=True)),
                ('offset_days', models.SmallIntegerField(null=True)),
                ('minutes', models.PositiveIntegerField(null=True)),
                ('reason', models.CharField(max_length=200)),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('ended_at', models.DateTimeField(blank=True, null=True)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('property', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='rule_adjustments', to='properties.property')),
            ],
            options={
                'ordering': ['-id'],
                'constraints': [models.UniqueConstraint(condition=models.Q(('ended_at', None)), fields=('property', 'rule'), name='adjustment_one_live_on_property'), models.UniqueConstraint(condition=models.Q(('ended_at', None), ('property', None)), fields=('rule',), name='adjustment_one_live_for_all')],
            },
        ),
    ]
