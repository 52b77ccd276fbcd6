"""Who is in the club, and where they transmit from."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from clubops.clock import ZoneUnknown, zone_named
from clubops.members import callsigns
from clubops.members.licences import LicenceClass


def club_zone() -> str:
    """The club's zone, as the default of a new row."""
    return settings.CLUB_ZONE


def validate_zone(name: str) -> None:
    """Refuse a zone that is not in the IANA database."""
    try:
        zone_named(name)
    except ZoneUnknown as problem:
        raise ValidationError(str(problem)) from problem


def validate_call_sign(text: str) -> None:
    """Refuse text that cannot be a call sign by shape."""
    try:
        callsigns.normalise(text)
    except callsigns.CallSignError as problem:
        raise ValidationError(str(problem)) from problem


class User(AbstractUser):
    """A login. The roster entry behind it is a Member."""


class Member(models.Model):
    """One person on the club's roster."""

    user = models.OneToOneField(
        User,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="member",
        help_text="The login of this person, if they have one.",
    )
    call_sign = models.CharField(max_length=16, unique=True, validators=[validate_call_sign])
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True, help_text="Where reminders go. Seen by officers only.")
    email_problem = models.CharField(
        max_length=200, blank=True, help_text="Set when mail to this address was refused for good."
    )
    wants_reminders = models.BooleanField(default=True)
    zone = models.CharField(max_length=64, default=club_zone, validators=[validate_zone])
    licence_class = models.ForeignKey(
        LicenceClass,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="members",
        verbose_name="licence class",
        help_text="By the licence itself; what it allows is in the club's table of classes.",
    )
    licence_expires_on = models.DateField(null=True, blank=True)
    joined_on = models.DateField(null=True, blank=True)
    takes_the_chair = models.BooleanField(
        "takes the chair", default=False, help_text="Volunteers as net control or backup."
    )
    is_experienced = models.BooleanField(default=False, help_text="Has run nets before; may back a newcomer.")
    willingness = models.PositiveSmallIntegerField(
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(5)],
        help_text="Share of the turns compared with others: 1 is one share, 2 is two.",
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["call_sign"]
        constraints = [
            models.CheckConstraint(
                condition=Q(willingness__gte=1, willingness__lte=5), name="member_willingness_1_to_5"
            )
        ]

    def __str__(self) -> str:
        return f"{self.call_sign} {self.name}"

    def clean(self) -> None:
        # A malformed one is the field's own error; Django calls this all the same.
        if callsigns.is_well_formed(self.call_sign):
            self.call_sign = callsigns.normalise(self.call_sign)


class Station(models.Model):
    """A place and a radio one member transmits with. Its position never leaves the club."""

    class Noise(models.TextChoices):
        CITY = "city", "city"
        RESIDENTIAL = "residential", "residential"
        RURAL = "rural", "rural"
        QUIET_RURAL = "quiet_rural", "quiet rural"

    class Building(models.TextChoices):
        OUTDOORS = "outdoors", "outdoors, or antenna outside"
        TRADITIONAL = "traditional", "indoors, traditional building"
        EFFICIENT = "thermally_efficient", "indoors, thermally efficient building"

    class Surroundings(models.TextChoices):
        OPEN = "open", "open ground or water, nothing near"
        WOODED = "wooded", "among trees, about 15 m high"
        SUBURBAN = "suburban", "among houses, about 10 m high"
        TOWN = "town", "in a town, about 15 m high"
        DENSE_TOWN = "dense_town", "in a dense town, about 20 m high"

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="stations")
    name = models.CharField(max_length=60, help_text="Such as home, cabin or car.")
    preset = models.CharField(max_length=40, blank=True, help_text="The preset this station began from.")
    latitude_deg = models.FloatField(
        "latitude", validators=[MinValueValidator(-90), MaxValueValidator(90)], help_text="Degrees, north +."
    )
    longitude_deg = models.FloatField(
        "longitude",
        validators=[MinValueValidator(-180), MaxValueValidator(180)],
        help_text="Degrees, east +.",
    )
    antenna_height_m = models.FloatField(
        "antenna height",
        default=1.5,
        validators=[MinValueValidator(1), MaxValueValidator(3000)],
        help_text="Metres above the ground, 1 to 3000 (the range of P.1812).",
    )
    antenna_gain_dbi = models.FloatField(
        "antenna gain",
        default=0.0,
        validators=[MinValueValidator(-30), MaxValueValidator(30)],
        help_text="dBi.",
    )
    body_loss_db = models.FloatField(
        "body loss", default=0.0, validators=[MinValueValidator(0), MaxValueValidator(40)], help_text="dB."
    )
    feedline_kind = models.CharField(max_length=40, blank=True, help_text="Blank for a handheld.")
    feedline_length_m = models.FloatField(
        "feedline length", default=0.0, validators=[MinValueValidator(0), MaxValueValidator(500)]
    )
    connectors = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(20)])
    antenna_swr = models.FloatField(
        "SWR",
        default=1.0,
        validators=[MinValueValidator(1), MaxValueValidator(20)],
        help_text="Standing wave ratio at the antenna, 1 to 20.",
    )
    power_w = models.FloatField(
        "power",
        default=5.0,
        validators=[MinValueValidator(0.001), MaxValueValidator(2000)],
        help_text="Watts.",
    )
    sensitivity_uv = models.FloatField(
        "receiver sensitivity",
        default=0.25,
        validators=[MinValueValidator(0.01), MaxValueValidator(100)],
        help_text="Microvolts for 12 dB SINAD.",
    )
    noise_class = models.CharField(max_length=20, choices=Noise, default=Noise.RESIDENTIAL)
    building = models.CharField(max_length=24, choices=Building, default=Building.OUTDOORS)
    surroundings = models.CharField(
        max_length=12,
        choices=Surroundings,
        default=Surroundings.SUBURBAN,
        help_text="What stands round the antenna. Costs nothing once the antenna is above it.",
    )
    is_main = models.BooleanField("main station", default=False)

    class Meta:
        ordering = ["member", "-is_main", "name"]
        constraints = [
            models.UniqueConstraint(fields=["member", "name"], name="station_name_once_a_member"),
            models.UniqueConstraint(
                fields=["member"], condition=Q(is_main=True), name="station_one_main_a_member"
            ),
            models.CheckConstraint(
                condition=Q(latitude_deg__range=(-90, 90), longitude_deg__range=(-180, 180)),
                name="station_on_the_globe",
            ),
            models.CheckConstraint(
                condition=Q(antenna_height_m__gte=1, antenna_height_m__lte=3000),
                name="station_antenna_height",
            ),
            models.CheckConstraint(condition=Q(power_w__gt=0), name="station_power_positive"),
        ]

    def __str__(self) -> str:
        return f"{self.member.call_sign} {self.name}"
