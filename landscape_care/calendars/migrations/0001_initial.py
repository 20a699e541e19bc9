import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('dispatch', '__first__'),
        ('properties', '__first__'),
    ]

    operations = [
        migrations.CreateModel(
            name='Address',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('digest', models.CharField(max_length=64, unique=True)),
                ('hint', models.CharField(help_text='First letters of the token, to tell addresses apart', max_length=8)),
                ('audience', models.CharField(choices=[('property', 'One property, for its owner'), ('client', 'All properties of a client'), ('crew', 'A crew'), ('depot', 'A depot'), ('company', 'The whole company')], max_length=10)),
                ('name', models.CharField(max_length=80)),
                ('language', models.CharField(choices=[('en', 'English'), ('es', 'Español')], default='en', max_length=2)),
                ('issued_at', models.DateTimeField(auto_now_add=True)),
                ('revoked_at', models.DateTimeField(blank=True, null=True)),
                ('last_read_at', models.DateTimeField(blank=True, null=True)),
                ('last_reader', models.CharField(blank=True, max_length=80)),
                ('client', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='addresses', to='properties.client')),
                ('crew', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='addresses', to='dispatch.crew')),
                ('depot', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='addresses', to='properties.depot')),
                ('property', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='addresses', to='properties.property')),
            ],
            options={
                'verbose_name_plural': 'addresses',
                'ordering': ['id'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('audience', 'property'), ('client', None), ('crew', None), ('depot', None), ('property__isnull', False)), models.Q(('audience', 'client'), ('client__isnull', False), ('crew', None), ('depot', None), ('property', None)), models.Q(('audience', 'crew'), ('client', None), ('crew__isnull', False), ('depot', None), ('property', None)), models.Q(('audience', 'depot'), ('client', None), ('crew', None), ('depot__isnull', False), ('property', None)), models.Q(('audience', 'company'), ('client', None), ('crew', None), ('depot', None), ('property', None)), _connector='OR'), name='address_fits_audience')],
            },
        ),
    ]
