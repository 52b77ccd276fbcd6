import django.core.validators
import django.db.models.deletion
from django.db import migrations, models


def forget_what_is_stored(apps, schema_editor):
    """Calendars are made from the records: the next rebuilding makes them in the new shape."""
    apps.get_model('nets', 'StoredCalendar').objects.all().delete()


class Migration(migrations.Migration):

    dependencies = [
        ('members', '0001_initial'),
        ('nets', '0004_rota_drafts'),
        ('relays', '0002_coverage_runs'),
    ]

    operations = [
        migrations.RunPython(forget_what_is_stored, migrations.RunPython.noop),
        migrations.CreateModel(
            name='CalendarEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('net', 'series of a net'), ('session', 'session that departs from its rule'), ('duty', 'duty')], max_length=8)),
                ('seed', models.CharField(help_text='Its identity, unique in the world.', max_length=120)),
                ('occurrence_date', models.DateField(null=True)),
                ('ends_at', models.DateTimeField(help_text='Empty for a series.', null=True)),
                ('facts', models.JSONField(default=dict)),
                ('sequence', models.PositiveIntegerField(default=0)),
                ('digest', models.CharField(max_length=32)),
                ('created_at', models.DateTimeField()),
                ('modified_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['net', 'kind', 'seed'],
            },
        ),
        migrations.AddField(
            model_name='feedkey',
            name='alarm_before_min',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Minutes before a duty at which the calendar program gives an alarm; empty for none.', null=True, validators=[django.core.validators.MaxValueValidator(10080)], verbose_name='alarm'),
        ),
        migrations.AddField(
            model_name='storedcalendar',
            name='body_gzip',
            field=models.BinaryField(default=b''),
        ),
        migrations.AddField(
            model_name='storedcalendar',
            name='built',
            field=models.PositiveBigIntegerField(default=0),
        ),
        migrations.AddField(
            model_name='storedcalendar',
            name='has_alarms',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='storedcalendar',
            name='member',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='calendars', to='members.member'),
        ),
        migrations.AddField(
            model_name='storedcalendar',
            name='net',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='calendars', to='nets.net'),
        ),
        migrations.AddField(
            model_name='storedcalendar',
            name='relay',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='calendars', to='relays.relay'),
        ),
        migrations.AddField(
            model_name='storedcalendar',
            name='touched',
            field=models.PositiveBigIntegerField(default=1),
        ),
        migrations.AlterField(
            model_name='storedcalendar',
            name='body',
            field=models.BinaryField(default=b''),
        ),
        migrations.AlterField(
            model_name='storedcalendar',
            name='etag',
            field=models.CharField(blank=True, help_text='Of the plain bytes; see etag_gzip.', max_length=80),
        ),
        migrations.AlterField(
            model_name='storedcalendar',
            name='key',
            field=models.CharField(help_text='Such as net:12, net:12/alarms or club.', max_length=120, unique=True),
        ),
        migrations.AlterField(
            model_name='storedcalendar',
            name='modified_at',
            field=models.DateTimeField(null=True),
        ),
        migrations.AddConstraint(
            model_name='storedcalendar',
            constraint=models.CheckConstraint(condition=models.Q(('built__lte', models.F('touched'))), name='calendar_built_after_touched'),
        ),
        migrations.AddConstraint(
            model_name='storedcalendar',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('etag', ''), ('modified_at__isnull', True)), models.Q(models.Q(('etag', ''), _negated=True), ('modified_at__isnull', False)), _connector='OR'), name='calendar_with_bytes_has_a_date'),
        ),
        migrations.AddField(
            model_name='calendarentry',
            name='member',
            field=models.ForeignKey(help_text='Of a duty.', null=True, on_delete=django.db.models.deletion.CASCADE, related_name='calendar_entries', to='members.member'),
        ),
        migrations.AddField(
            model_name='calendarentry',
            name='net',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='calendar_entries', to='nets.net'),
        ),
        migrations.AddIndex(
            model_name='calendarentry',
            index=models.Index(fields=['net', 'ends_at'], name='calendar_entry_net_end'),
        ),
        migrations.AddIndex(
            model_name='calendarentry',
            index=models.Index(fields=['member', 'ends_at'], name='calendar_entry_member_end'),
        ),
        migrations.AddConstraint(
            model_name='calendarentry',
            constraint=models.UniqueConstraint(fields=('kind', 'seed'), name='calendar_entry_once'),
        ),
    ]
