from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [
        ('nets', '0006_turn_wish_plural'),
    ]

    operations = [
        migrations.RemoveField(
            model_name='net',
            name='calendar_digest',
        ),
    ]
