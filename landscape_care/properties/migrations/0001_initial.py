import django.db.models.deletion
import landscape_care.properties.encryption
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='InstalledThing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('bed', 'bed'), ('planting', 'planting'), ('controller', 'controller'), ('zone', 'zone'), ('valve_box', 'valve_box'), ('sensor', 'sensor'), ('backflow', 'backflow'), ('water_feature', 'water_feature'), ('pump', 'pump'), ('filter', 'filter'), ('transformer', 'transformer'), ('wire_run', 'wire_run'), ('fixture', 'fixture'), ('turf', 'turf'), ('paving', 'paving'), ('gravel', 'gravel'), ('boundary', 'boundary'), ('structure', 'structure'), ('fireplace', 'fireplace'), ('drain', 'drain')], max_length=20)),
                ('tag', models.CharField(max_length=20)),
                ('name', models.CharField(blank=True, max_length=80)),
                ('note', models.TextField(blank=True)),
                ('installed_on', models.DateField()),
                ('removed_on', models.DateField(blank=True, null=True)),
                ('outline', models.JSONField(blank=True, default=list, help_text='Corners on the plan, in feet')),
            ],
            options={
                'ordering': ['property_id', 'tag'],
            },
        ),
        migrations.CreateModel(
            name='Client',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.SlugField(max_length=40, unique=True)),
                ('name', models.CharField(max_length=120)),
                ('language', models.CharField(choices=[('en', 'English'), ('es', 'Español')], default='en', max_length=2)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('note', models.TextField(blank=True)),
            ],
            options={
                'ordering': ['code'],
            },
        ),
        migrations.CreateModel(
            name='Backflow',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('size_in', models.FloatField(default=1)),
                ('serial', models.CharField(blank=True, max_length=40)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Bed',
            fields=[
                ('installedthing_ptr', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, related_name='as_bed', serialize=False, to='properties.installedthing')),
                ('area_ft2', models.FloatField()),
                ('exposure', models.CharField(max_length=20)),
                ('soil', models.CharField(max_length=20)),
                ('amended_depth_in', models.FloatField(default=12)),
                ('mulch', models.CharField(default='organic', max_length=10)),
                ('mulch_depth_in', models.FloatField(default=2)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Boundary',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('material', models.CharField(default='block', max_length=12)),
                ('length_ft', models.FloatField()),
                ('gates', models.PositiveSmallIntegerField(default=0)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Controller',
            fields=[
                ('installedthing_ptr', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, related_name='as_controller', serialize=False, to='properties.installedthing')),
                ('stations', models.PositiveSmallIntegerField()),
                ('battery', models.BooleanField(default=True)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Drain',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('grates', models.PositiveSmallIntegerField(default=1)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Fireplace',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('fuel', models.CharField(default='wood', max_length=8)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Gravel',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('area_ft2', models.FloatField()),
                ('depth_in', models.FloatField(default=2)),
                ('material', models.CharField(default='gravel', max_length=20)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Paving',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('stone', models.CharField(max_length=20)),
                ('area_ft2', models.FloatField()),
                ('joint', models.CharField(default='polymeric_sand', max_length=20)),
                ('joint_width_in', models.FloatField(default=0.125)),
                ('steps', models.PositiveSmallIntegerField(default=0)),
                ('sealed', models.BooleanField(default=False)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Sensor',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('measures', models.CharField(default='rain', max_length=20)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Structure',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('form', models.CharField(default='pergola', max_length=12)),
                ('material', models.CharField(default='wood', max_length=12)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Transformer',
            fields=[
                ('installedthing_ptr', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, related_name='as_transformer', serialize=False, to='properties.installedthing')),
                ('capacity_va', models.FloatField()),
                ('volts', models.FloatField(default=12)),
                ('timer', models.CharField(max_length=12)),
                ('set_on', models.TimeField(blank=True, null=True)),
                ('set_off', models.TimeField(blank=True, null=True)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Turf',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('area_ft2', models.FloatField()),
                ('infill', models.CharField(default='silica_sand', max_length=20)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='ValveBox',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('valves', models.PositiveSmallIntegerField(default=1)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='WaterFeature',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('surface_ft2', models.FloatField()),
                ('volume_gal', models.FloatField()),
                ('fall_ft', models.FloatField(default=0)),
                ('fish', models.BooleanField(default=False)),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Depot',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.SlugField(max_length=40, unique=True)),
                ('name', models.CharField(max_length=120)),
                ('latitude_deg', models.FloatField()),
                ('longitude_deg', models.FloatField()),
                ('time_zone', models.CharField(max_length=60)),
            ],
            options={
                'ordering': ['code'],
                'constraints': [models.CheckConstraint(condition=models.Q(('latitude_deg__gte', -90), ('latitude_deg__lte', 90), ('longitude_deg__gte', -180), ('longitude_deg__lte', 180)), name='depot_on_earth')],
            },
        ),
        migrations.CreateModel(
            name='Property',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.SlugField(max_length=40, unique=True)),
                ('name', models.CharField(max_length=120)),
                ('street', models.CharField(max_length=160)),
                ('town', models.CharField(max_length=80)),
                ('latitude_deg', models.FloatField()),
                ('longitude_deg', models.FloatField()),
                ('elevation_m', models.FloatField(default=0)),
                ('time_zone', models.CharField(max_length=60)),
                ('climate', models.CharField(help_text='Key of a climate of the almanac', max_length=40)),
                ('access_opens', models.TimeField(help_text='Crews may enter from')),
                ('access_closes', models.TimeField(help_text='Crews must have left by')),
                ('access_note', models.TextField(blank=True)),
                ('gate_code', landscape_care.properties.encryption.EncryptedText(blank=True, default='')),
                ('watering_weekdays', models.CharField(default='1234567', help_text='1 Monday to 7 Sunday', max_length=7)),
                ('watering_opens', models.TimeField()),
                ('watering_closes', models.TimeField()),
                ('static_pressure_psi', models.FloatField(blank=True, null=True)),
                ('supply_gpm', models.FloatField(blank=True, null=True)),
                ('care_starts_on', models.DateField(help_text='Care is planned from this day')),
                ('care_ends_on', models.DateField(blank=True, null=True)),
                ('plan_wanted_at', models.DateTimeField(blank=True, db_index=True, help_text='Set when something changed and care must be planned again', null=True)),
                ('planned_through', models.DateField(blank=True, db_index=True, null=True)),
                ('client', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='properties', to='properties.client')),
                ('depot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='properties', to='properties.depot')),
            ],
            options={
                'verbose_name_plural': 'properties',
                'ordering': ['code'],
            },
        ),
        migrations.CreateModel(
            name='Photo',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('picture', models.ImageField(upload_to='photos/%Y/%m/')),
                ('caption', models.CharField(blank=True, max_length=160)),
                ('taken_at', models.DateTimeField(auto_now_add=True)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('thing', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='properties.installedthing')),
                ('property', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='properties.property')),
            ],
            options={
                'ordering': ['-taken_at'],
            },
        ),
        migrations.AddField(
            model_name='installedthing',
            name='property',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='things', to='properties.property'),
        ),
        migrations.CreateModel(
            name='Agreement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('cadence', models.CharField(choices=[('weekly', 'Weekly'), ('fortnightly', 'Every two weeks'), ('monthly', 'Monthly'), ('seasonal', 'Four times a year')], max_length=12)),
                ('weekdays', models.CharField(default='12345', help_text='Allowed days, 1 Monday to 7 Sunday', max_length=7)),
                ('stems', models.JSONField(default=list, help_text='Kinds of care included, such as planting or lighting; empty means all')),
                ('property', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='agreement', to='properties.property')),
            ],
        ),
        migrations.CreateModel(
            name='ThingChange',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('field', models.CharField(max_length=40)),
                ('was', models.JSONField(null=True)),
                ('now', models.JSONField(null=True)),
                ('reason', models.CharField(blank=True, max_length=200)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('thing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='changes', to='properties.installedthing')),
            ],
            options={
                'ordering': ['-id'],
            },
        ),
        migrations.CreateModel(
            name='Planting',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('plant', models.CharField(max_length=80)),
                ('partner', models.CharField(blank=True, max_length=80)),
                ('role', models.CharField(max_length=20)),
                ('quantity', models.PositiveIntegerField(default=0)),
                ('area_ft2', models.FloatField(blank=True, null=True)),
                ('spacing_in', models.FloatField(blank=True, null=True)),
                ('canopy_ft', models.FloatField(blank=True, null=True)),
                ('staked', models.BooleanField(default=False)),
                ('bed', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='plantings', to='properties.bed')),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Pump',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('power_hp', models.FloatField()),
                ('flow_gpm', models.FloatField(blank=True, null=True)),
                ('head_ft', models.FloatField(blank=True, null=True)),
                ('hours_per_day', models.FloatField(default=12)),
                ('baskets', models.PositiveSmallIntegerField(default=1)),
                ('water_feature', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='pumps', to='properties.waterfeature')),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Filter',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('medium', models.CharField(max_length=12)),
                ('area_ft2', models.FloatField(blank=True, null=True)),
                ('clean_psi', models.FloatField(blank=True, null=True)),
                ('water_feature', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='filters', to='properties.waterfeature')),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='WireRun',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('awg', models.PositiveSmallIntegerField()),
                ('length_ft', models.FloatField()),
                ('transformer', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='wire_runs', to='properties.transformer')),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Fixture',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('distance_ft', models.FloatField(blank=True, null=True)),
                ('watts', models.FloatField()),
                ('quantity', models.PositiveSmallIntegerField(default=1)),
                ('rated_hours', models.PositiveIntegerField(blank=True, null=True)),
                ('hung_in_tree', models.BooleanField(default=False)),
                ('transformer', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='fixtures', to='properties.transformer')),
                ('wire_run', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='fixtures', to='properties.wirerun')),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.CreateModel(
            name='Zone',
            fields=[
                ('installedthing_ptr', models.OneToOneField(auto_created=True, on_delete=django.db.models.deletion.CASCADE, parent_link=True, primary_key=True, serialize=False, to='properties.installedthing')),
                ('station', models.PositiveSmallIntegerField()),
                ('device', models.CharField(max_length=12)),
                ('area_ft2', models.FloatField(blank=True, null=True)),
                ('precipitation_in_h', models.FloatField(blank=True, null=True)),
                ('flow_gpm', models.FloatField(blank=True, null=True)),
                ('emitters', models.PositiveIntegerField(default=0)),
                ('emitter_gph', models.FloatField(blank=True, null=True)),
                ('distribution_uniformity', models.FloatField(blank=True, null=True)),
                ('set_minutes', models.PositiveSmallIntegerField(blank=True, null=True)),
                ('set_weekdays', models.CharField(blank=True, max_length=7)),
                ('set_start', models.TimeField(blank=True, null=True)),
                ('controller', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='zones', to='properties.controller')),
                ('plantings', models.ManyToManyField(blank=True, related_name='zones', to='properties.planting')),
            ],
            bases=('properties.installedthing',),
        ),
        migrations.AddConstraint(
            model_name='property',
            constraint=models.CheckConstraint(condition=models.Q(('latitude_deg__gte', -90), ('latitude_deg__lte', 90), ('longitude_deg__gte', -180), ('longitude_deg__lte', 180)), name='property_on_earth'),
        ),
        migrations.AddConstraint(
            model_name='property',
            constraint=models.CheckConstraint(condition=models.Q(('access_closes__gt', models.F('access_opens'))), name='property_access_closes_later'),
        ),
        migrations.AddConstraint(
            model_name='installedthing',
            constraint=models.UniqueConstraint(fields=('property', 'tag'), name='thing_tag_unique_on_property'),
        ),
        migrations.AddConstraint(
            model_name='installedthing',
            constraint=models.CheckConstraint(condition=models.Q(('removed_on', None), ('removed_on__gte', models.F('installed_on')), _connector='OR'), name='thing_removed_after_installed'),
        ),
        migrations.AddConstraint(
            model_name='agreement',
            constraint=models.CheckConstraint(condition=models.Q(('cadence__in', ['weekly', 'fortnightly', 'monthly', 'seasonal'])), name='agreement_cadence_known'),
        ),
    ]
