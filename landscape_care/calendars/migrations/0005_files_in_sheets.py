import json
import zlib

from django.db import migrations, models


def to_lines(apps, schema_editor):
    """Keep what was told of each entry as a line each; the sheets are cut when the file is made again."""
    for row in apps.get_model('calendars', 'CalendarFile').objects.all():
        entries, _, whole = json.loads(zlib.decompress(bytes(row.told)))
        lines = [' '.join(map(str, entry)) for entry in entries]
        row.told = '\n'.join([json.dumps([[], [], whole], separators=(',', ':')), *lines]).encode()
        row.save(update_fields=['told'])


def to_rows(apps, schema_editor):
    """The same the other way round; without the notes a file is made from the whole."""
    for row in apps.get_model('calendars', 'CalendarFile').objects.all():
        above, *lines = bytes(row.told).decode().split('\n')
        entries = [[uid, content, int(sequence), int(moment), day] for uid, content, sequence, moment, day in map(str.split, lines)]
        row.told = zlib.compress(json.dumps([entries, {}, json.loads(above)[2]]).encode(), 1)
        row.save(update_fields=['told'])


class Migration(migrations.Migration):

    dependencies = [
        ('calendars', '0004_parts_of_changes'),
    ]

    operations = [
        migrations.RunPython(to_lines, to_rows),
        migrations.AlterField(
            model_name='calendarfile',
            name='tag',
            field=models.CharField(help_text='Digest of the file', max_length=64),
        ),
        migrations.AlterField(
            model_name='calendarfile',
            name='told',
            field=models.BinaryField(help_text='What was told of each entry, and the index of the sheets'),
        ),
        migrations.AlterField(
            model_name='address',
            name='shows',
            field=models.CharField(choices=[('all', 'Visits and care of the season'), ('visits', 'Visits alone'), ('seasons', 'Care of the season alone'), ('windows', 'Every care window'), ('todos', 'Every care window as a list to do')], default='all', max_length=8),
        ),
        migrations.AddIndex(
            model_name='change',
            index=models.Index(fields=['about', 'id'], name='change_about_newest'),
        ),
    ]
