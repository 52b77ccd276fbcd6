import django.core.validators
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """The table of classes; what was free text is kept beside it until 0003 has carried it over."""

    dependencies = [("members", "0001_initial")]

    operations = [
        migrations.CreateModel(
            name="LicenceClass",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("name", models.CharField(max_length=40, unique=True)),
                ("order", models.PositiveSmallIntegerField(default=0, help_text="Lists go by this: 1 for the class that is allowed least.")),
                ("note", models.CharField(blank=True, help_text="Where the table comes from, such as the regulation and its date.", max_length=200)),
            ],
            options={
                "verbose_name": "licence class",
                "verbose_name_plural": "licence classes",
                "ordering": ["order", "name"],
            },
        ),
        migrations.CreateModel(
            name="Privilege",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("low_mhz", models.DecimalField(decimal_places=4, help_text="MHz.", max_digits=10, verbose_name="from")),
                ("high_mhz", models.DecimalField(decimal_places=4, help_text="MHz.", max_digits=10, verbose_name="to")),
                ("most_power_w", models.FloatField(blank=True, help_text="Watts out of the transmitter; nothing where the class has no limit there.", null=True, validators=[django.core.validators.MaxValueValidator(100000)], verbose_name="most power")),
                ("operation", models.PositiveSmallIntegerField(choices=[(3, "alone, and as net control"), (2, "alone, but not as net control"), (1, "only with a supervisor")], default=3, verbose_name="operates")),
                ("licence_class", models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="privileges", to="members.licenceclass")),
            ],
            options={
                "ordering": ["licence_class", "low_mhz"],
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("high_mhz__gt", models.F("low_mhz")), ("low_mhz__gt", 0)), name="privilege_low_below_high"),
                    models.CheckConstraint(condition=models.Q(("most_power_w__isnull", True), ("most_power_w__gt", 0), _connector="OR"), name="privilege_power_positive"),
                ],
            },
        ),
        migrations.RenameField(model_name="member", old_name="licence_class", new_name="licence_text"),
        migrations.AddField(
            model_name="member",
            name="licence_class",
            field=models.ForeignKey(blank=True, help_text="By the licence itself; what it allows is in the club's table of classes.", null=True, on_delete=django.db.models.deletion.PROTECT, related_name="members", to="members.licenceclass", verbose_name="licence class"),
        ),
    ]
