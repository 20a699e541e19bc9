import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('care', '0001_initial'),
        ('properties', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Visit',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('slot', models.CharField(max_length=60)),
                ('uid', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('opens_on', models.DateField()),
                ('closes_on', models.DateField()),
                ('weekdays', models.CharField(default='12345', max_length=7)),
                ('minutes', models.PositiveIntegerField()),
                ('people', models.PositiveSmallIntegerField(default=1)),
                ('skills', models.JSONField(default=list)),
                ('state', models.CharField(choices=[('planned', 'Planned'), ('published', 'Published'), ('done', 'Done'), ('withdrawn', 'Withdrawn')], default='planned', max_length=10)),
                ('day', models.DateField(blank=True, null=True)),
                ('arrives_at', models.TimeField(blank=True, null=True)),
                ('leaves_at', models.TimeField(blank=True, null=True)),
                ('crew_name', models.CharField(blank=True, max_length=80)),
                ('moved_from', models.DateField(blank=True, null=True)),
                ('announced', models.BooleanField(default=False, help_text='People have been told at least once')),
                ('withdrawn_reason', models.CharField(blank=True, max_length=200)),
                ('revision', models.PositiveIntegerField(default=0)),
                ('changed_at', models.DateTimeField()),
                ('property', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visits', to='properties.property')),
            ],
            options={
                'ordering': ['opens_on', 'id'],
            },
        ),
        migrations.CreateModel(
            name='Completion',
            fields=[
                ('id', models.UUIDField(primary_key=True, serialize=False)),
                ('outcome', models.CharField(choices=[('done', 'Done'), ('skipped', 'Could not do'), ('follow_up', 'Done, needs follow-up')], max_length=10)),
                ('reason', models.CharField(blank=True, max_length=200)),
                ('note', models.TextField(blank=True)),
                ('readings', models.JSONField(default=list)),
                ('settings_left', models.JSONField(default=dict)),
                ('done_on', models.DateField()),
                ('recorded_at', models.DateTimeField(auto_now_add=True)),
                ('body_digest', models.CharField(max_length=64)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('photos', models.ManyToManyField(blank=True, related_name='completions', to='properties.photo')),
                ('task', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='completions', to='care.caretask')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='completions', to='visits.visit')),
            ],
            options={
                'ordering': ['-recorded_at'],
            },
        ),
        migrations.CreateModel(
            name='VisitTask',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('task', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='visit_task', to='care.caretask')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='visit_tasks', to='visits.visit')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.AddIndex(
            model_name='visit',
            index=models.Index(fields=['state', 'day'], name='visit_state_day'),
        ),
        migrations.AddConstraint(
            model_name='visit',
            constraint=models.UniqueConstraint(fields=('property', 'slot'), name='visit_slot_unique_on_property'),
        ),
        migrations.AddConstraint(
            model_name='visit',
            constraint=models.CheckConstraint(condition=models.Q(('closes_on__gte', models.F('opens_on'))), name='visit_window_in_order'),
        ),
        migrations.AddConstraint(
            model_name='visit',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'published'), _negated=True), models.Q(('arrives_at__isnull', False), ('day__isnull', False), ('leaves_at__isnull', False)), _connector='OR'), name='visit_published_has_time'),
        ),
        migrations.AddConstraint(
            model_name='completion',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('outcome', 'skipped'), _negated=True), models.Q(('reason', ''), _negated=True), _connector='OR'), name='completion_skip_has_reason'),
        ),
    ]
