import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('properties', '0001_initial'),
        ('visits', '0001_initial'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Crew',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.SlugField(max_length=40, unique=True)),
                ('name', models.CharField(max_length=80)),
                ('people', models.PositiveSmallIntegerField(default=2)),
                ('skills', models.JSONField(default=list)),
                ('shift_opens', models.TimeField()),
                ('shift_closes', models.TimeField()),
                ('break_minutes', models.PositiveSmallIntegerField(default=30)),
                ('weekdays', models.CharField(default='12345', help_text='1 Monday to 7 Sunday', max_length=7)),
                ('active', models.BooleanField(default=True)),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='crews', to='properties.depot')),
                ('members', models.ManyToManyField(blank=True, related_name='crews', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['depot_id', 'code'],
            },
        ),
        migrations.CreateModel(
            name='CrewDayOff',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('reason', models.CharField(blank=True, max_length=120)),
                ('crew', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='days_off', to='dispatch.crew')),
            ],
        ),
        migrations.CreateModel(
            name='MonthPlan',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('month', models.DateField(help_text='First day of the month')),
                ('number', models.PositiveIntegerField(help_text='1, 2, 3 ... within depot and month')),
                ('state', models.CharField(choices=[('waiting', 'Waiting to be solved'), ('solving', 'Being solved'), ('proposed', 'Proposed'), ('published', 'Published'), ('superseded', 'Replaced'), ('failed', 'Failed')], default='waiting', max_length=12)),
                ('seconds_allowed', models.PositiveIntegerField(default=20)),
                ('summary', models.JSONField(default=dict)),
                ('asked_at', models.DateTimeField(auto_now_add=True)),
                ('solved_at', models.DateTimeField(blank=True, null=True)),
                ('published_at', models.DateTimeField(blank=True, null=True)),
                ('failure', models.CharField(blank=True, max_length=300)),
                ('asked_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='month_plans', to='properties.depot')),
            ],
            options={
                'ordering': ['-month', 'depot_id', '-number'],
            },
        ),
        migrations.CreateModel(
            name='Stop',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('position', models.PositiveSmallIntegerField(help_text='1 is the first stop of the day')),
                ('drive_minutes', models.FloatField(default=0, help_text='From the stop before, or from the depot')),
                ('drive_miles', models.FloatField(default=0)),
                ('arrives_at', models.TimeField()),
                ('leaves_at', models.TimeField()),
                ('held', models.BooleanField(default=False, help_text='Day and crew stay as they are when planned again')),
                ('version', models.PositiveIntegerField(default=0)),
                ('crew', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stops', to='dispatch.crew')),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stops', to='dispatch.monthplan')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stops', to='visits.visit')),
            ],
            options={
                'ordering': ['day', 'crew_id', 'position'],
            },
        ),
        migrations.CreateModel(
            name='Unserved',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('reason', models.CharField(max_length=200)),
                ('reason_es', models.CharField(max_length=200)),
                ('plan', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='unserved', to='dispatch.monthplan')),
                ('visit', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='visits.visit')),
            ],
        ),
        migrations.AddConstraint(
            model_name='crew',
            constraint=models.CheckConstraint(condition=models.Q(('shift_closes__gt', models.F('shift_opens'))), name='crew_shift_in_order'),
        ),
        migrations.AddConstraint(
            model_name='crewdayoff',
            constraint=models.UniqueConstraint(fields=('crew', 'day'), name='crew_day_off_once'),
        ),
        migrations.AddConstraint(
            model_name='monthplan',
            constraint=models.UniqueConstraint(fields=('depot', 'month', 'number'), name='plan_number_unique'),
        ),
        migrations.AddConstraint(
            model_name='monthplan',
            constraint=models.UniqueConstraint(condition=models.Q(('state', 'published')), fields=('depot', 'month'), name='plan_one_published'),
        ),
        migrations.AddConstraint(
            model_name='monthplan',
            constraint=models.CheckConstraint(condition=models.Q(('month__day', 1)), name='plan_month_is_first_day'),
        ),
        migrations.AddIndex(
            model_name='stop',
            index=models.Index(fields=['crew', 'day'], name='stop_crew_day'),
        ),
        migrations.AddConstraint(
            model_name='stop',
            constraint=models.UniqueConstraint(fields=('plan', 'visit'), name='stop_visit_once_in_plan'),
        ),
        migrations.AddConstraint(
            model_name='stop',
            constraint=models.CheckConstraint(condition=models.Q(('leaves_at__gt', models.F('arrives_at'))), name='stop_takes_time'),
        ),
        migrations.AddConstraint(
            model_name='unserved',
            constraint=models.UniqueConstraint(fields=('plan', 'visit'), name='unserved_once_in_plan'),
        ),
    ]
