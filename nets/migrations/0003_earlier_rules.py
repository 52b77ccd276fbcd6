import uuid

import django.core.validators
import django.db.models.deletion
from django.db import migrations, models

import clubops.members.models
import nets.models.nets


def keep_the_series(apps, schema_editor):
    """What calendars have shown under the net's public id goes on under it."""
    net = apps.get_model('nets', 'Net')
    net.objects.update(series_id=models.F('public_id'))


class Migration(migrations.Migration):

    dependencies = [
        ('nets', '0002_check_ins'),
        ('relays', '0001_initial'),
    ]

    operations = [
        migrations.AddField(
            model_name='net',
            name='series_id',
            field=models.UUIDField(editable=False, null=True),
        ),
        migrations.RunPython(keep_the_series, migrations.RunPython.noop),
        migrations.AlterField(
            model_name='net',
            name='series_id',
            field=models.UUIDField(default=uuid.uuid4, editable=False, help_text='Identity of the present rule in calendars; a new rule is a new series.', unique=True),
        ),
        migrations.CreateModel(
            name='EarlierRule',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('simplex_mhz', models.DecimalField(blank=True, decimal_places=4, help_text='MHz, when no relay is used.', max_digits=9, null=True, verbose_name='simplex frequency')),
                ('rule', models.CharField(default='FREQ=WEEKLY;BYDAY=TU', help_text='RFC 5545 recurrence rule.', max_length=200, validators=[nets.models.nets.validate_rule])),
                ('first_date', models.DateField(help_text='The date of the first session.')),
                ('start_time', models.TimeField(help_text="Wall time in the net's own zone.")),
                ('zone', models.CharField(default=clubops.members.models.club_zone, max_length=64, validators=[clubops.members.models.validate_zone])),
                ('duration_min', models.PositiveSmallIntegerField(default=60, help_text='Minutes.', validators=[django.core.validators.MinValueValidator(5), django.core.validators.MaxValueValidator(720)], verbose_name='duration')),
                ('series_id', models.UUIDField(editable=False, help_text='Its identity in calendars.', unique=True)),
                ('last_date', models.DateField()),
                ('sequence', models.PositiveIntegerField(default=0, editable=False)),
                ('created_at', models.DateTimeField(editable=False)),
                ('changed_at', models.DateTimeField(auto_now=True)),
                ('net', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='earlier_rules', to='nets.net')),
                ('relay', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='%(class)ss', to='relays.relay')),
            ],
            options={
                'ordering': ['net', 'last_date'],
            },
        ),
        migrations.AlterField(
            model_name='net',
            name='relay',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='%(class)ss', to='relays.relay'),
        ),
        migrations.AddField(
            model_name='session',
            name='earlier_rule',
            field=models.ForeignKey(blank=True, editable=False, help_text="The rule that was in force on its date, if not the net's present one.", null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='sessions', to='nets.earlierrule'),
        ),
        migrations.AddConstraint(
            model_name='earlierrule',
            constraint=models.CheckConstraint(condition=models.Q(('last_date__gte', models.F('first_date'))), name='earlier_rule_ends_after_it_starts'),
        ),
        migrations.AddConstraint(
            model_name='earlierrule',
            constraint=models.UniqueConstraint(fields=('net', 'last_date'), name='earlier_rule_one_ends_a_date'),
        ),
    ]
