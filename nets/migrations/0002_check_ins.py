import django.db.models.deletion
import uuid
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('members', '0001_initial'),
        ('nets', '0001_initial'),
        ('relays', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='CheckIn',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(editable=False, unique=True)),
                ('call_sign', models.CharField(db_index=True, help_text='As far as it was heard; it may be part of one.', max_length=16)),
                ('is_visitor', models.BooleanField(default=False, help_text='Not on the roster that night.')),
                ('name', models.CharField(blank=True, max_length=120)),
                ('place', models.CharField(blank=True, help_text='As given on the air.', max_length=120)),
                ('heard_at', models.DateTimeField()),
                ('is_late_entry', models.BooleanField(default=False, help_text='The time was typed in afterwards.', verbose_name='late entry')),
                ('report', models.CharField(blank=True, help_text='Readability 1 to 5, strength 1 to 9; or words.', max_length=20, verbose_name='signal report')),
                ('via', models.CharField(choices=[('relay', 'relay'), ('link', 'link'), ('simplex', 'simplex'), ('station', 'through another station')], max_length=8)),
                ('via_note', models.CharField(blank=True, help_text='Which link, which frequency, which station.', max_length=80)),
                ('traffic', models.CharField(blank=True, choices=[('', 'no traffic'), ('routine', 'routine'), ('welfare', 'welfare'), ('priority', 'priority'), ('emergency', 'emergency')], default='', max_length=9)),
                ('notes', models.TextField(blank=True)),
                ('is_struck', models.BooleanField(default=False, verbose_name='struck out')),
                ('logged_by', models.CharField(max_length=150)),
                ('received_at', models.DateTimeField(help_text="When it reached the club's site.")),
                ('is_after_closing', models.BooleanField(default=False)),
                ('predicted_margin_db', models.FloatField(blank=True, help_text='Of the way into the relay, as it was predicted that night.', null=True)),
                ('predicted_probability', models.FloatField(blank=True, null=True)),
                ('version', models.PositiveBigIntegerField(default=0, editable=False)),
                ('member', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='check_ins', to='members.member')),
                ('relay', models.ForeignKey(blank=True, help_text='The relay that heard them; through another station, the one that did not.', null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='check_ins', to='relays.relay')),
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='check_ins', to='nets.session')),
                ('station', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='check_ins', to='members.station')),
            ],
            options={
                'verbose_name': 'check-in',
                'ordering': ['heard_at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Correction',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(editable=False, unique=True)),
                ('number', models.PositiveIntegerField()),
                ('made_by', models.CharField(max_length=150)),
                ('made_at', models.DateTimeField(help_text="When it reached the club's site.")),
                ('before', models.JSONField(help_text='Only the fields that changed.')),
                ('after', models.JSONField()),
                ('is_after_closing', models.BooleanField(default=False)),
                ('check_in', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='corrections', to='nets.checkin')),
            ],
            options={
                'ordering': ['check_in', 'number'],
            },
        ),
        migrations.CreateModel(
            name='RollCall',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('position', models.PositiveIntegerField()),
                ('call_sign', models.CharField(max_length=16)),
                ('name', models.CharField(blank=True, max_length=120)),
                ('state', models.CharField(choices=[('waiting', 'to be called'), ('no_answer', 'no answer'), ('off', 'taken off the list')], default='waiting', max_length=10)),
                ('changed_by', models.CharField(blank=True, max_length=150)),
                ('called_at', models.DateTimeField(blank=True, null=True)),
                ('predicted_margin_db', models.FloatField(blank=True, null=True)),
                ('version', models.PositiveBigIntegerField(default=0, editable=False)),
                ('member', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='members.member')),
                ('session', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='roll', to='nets.session')),
            ],
            options={
                'verbose_name': 'line of a roll call',
                'verbose_name_plural': 'roll calls',
                'ordering': ['session', 'position'],
            },
        ),
        migrations.CreateModel(
            name='SessionLog',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('opened_at', models.DateTimeField(blank=True, null=True)),
                ('opened_by', models.CharField(blank=True, max_length=150)),
                ('closed_at', models.DateTimeField(blank=True, null=True)),
                ('closed_by', models.CharField(blank=True, max_length=150)),
                ('remark', models.TextField(blank=True, help_text='What the next net control should know.')),
                ('summary', models.JSONField(blank=True, default=dict, editable=False, help_text='The figures as they stood at closing.')),
                ('events', models.JSONField(blank=True, default=list, editable=False, help_text='Opened, closed, reopened: what, who, when.')),
                ('version', models.PositiveBigIntegerField(default=0, editable=False)),
                ('net_control', models.ForeignKey(blank=True, help_text='Who was net control in the end, whatever the rota said.', null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='logs', to='members.member')),
                ('session', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='log', to='nets.session')),
            ],
            options={
                'ordering': ['-session__starts_at'],
            },
        ),
        migrations.AddIndex(
            model_name='checkin',
            index=models.Index(fields=['session', 'version'], name='check_in_session_version'),
        ),
        migrations.AddConstraint(
            model_name='checkin',
            constraint=models.CheckConstraint(condition=models.Q(('call_sign', ''), _negated=True), name='check_in_has_a_call_sign'),
        ),
        migrations.AddConstraint(
            model_name='checkin',
            constraint=models.CheckConstraint(condition=models.Q(('via__in', ['relay', 'station']), ('relay__isnull', True), _connector='OR'), name='check_in_relay_fits_the_way'),
        ),
        migrations.AddConstraint(
            model_name='correction',
            constraint=models.UniqueConstraint(fields=('check_in', 'number'), name='correction_numbers_in_order'),
        ),
        migrations.AddConstraint(
            model_name='rollcall',
            constraint=models.UniqueConstraint(fields=('session', 'call_sign'), name='roll_call_once_a_session'),
        ),
        migrations.AddConstraint(
            model_name='sessionlog',
            constraint=models.CheckConstraint(condition=models.Q(('closed_at__isnull', True), ('closed_at__gte', models.F('opened_at')), _connector='OR'), name='log_closes_after_it_opens'),
        ),
    ]
