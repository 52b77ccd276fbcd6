"""A net: when the club meets on the air, and where."""

from __future__ import annotations

import datetime as dt
import uuid

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from clubops.members.licences import LicenceClass
from clubops.members.models import Member, club_zone, validate_zone
from nets import recurrence
from relays import bands
from relays.models import Relay


def validate_rule(text: str) -> None:
    """Refuse a recurrence rule that cannot be read."""
    try:
        recurrence.Rule.parse(text)
    except recurrence.RuleError as problem:
        raise ValidationError(str(problem)) from problem


class HowItMeets(models.Model):
    """How a net meets for as long as one rule holds: where, by what rule, at what wall time, for how long."""

    relay = models.ForeignKey(
        Relay, null=True, blank=True, on_delete=models.PROTECT, related_name="%(class)ss"
    )
    simplex_mhz = models.DecimalField(
        "simplex frequency",
        max_digits=9,
        decimal_places=4,
        null=True,
        blank=True,
        help_text="MHz, when no relay is used.",
    )
    rule = models.CharField(
        max_length=200,
        default="FREQ=WEEKLY;BYDAY=TU",
        validators=[validate_rule],
        help_text="RFC 5545 recurrence rule.",
    )
    first_date = models.DateField(help_text="The date of the first session.")
    start_time = models.TimeField(help_text="Wall time in the net's own zone.")
    zone = models.CharField(max_length=64, default=club_zone, validators=[validate_zone])
    duration_min = models.PositiveSmallIntegerField(
        "duration",
        default=60,
        validators=[MinValueValidator(5), MaxValueValidator(720)],
        help_text="Minutes.",
    )

    class Meta:
        abstract = True

    @property
    def first_wall(self) -> dt.datetime:
        """Naive local date and time of the first session: the DTSTART of the rule."""
        return dt.datetime.combine(self.first_date, self.start_time)

    @property
    def duration(self) -> dt.timedelta:
        return dt.timedelta(minutes=self.duration_min)

    @property
    def anchored_rule(self) -> recurrence.Rule:
        """The rule with the day written out that RFC 5545 takes from the start. Raises `RuleError`."""
        return recurrence.Rule.parse(self.rule).anchored(self.first_wall)

    @property
    def in_words(self) -> str:
        """Such as 'every Tuesday at 19:30'."""
        return recurrence.in_words(self.anchored_rule, self.start_time, self.zone)


class Net(HowItMeets):
    """A recurring meeting, kept as local wall time, an IANA zone and an RFC 5545 rule.

    The rule is the latest one, in force from `first_date` on; those before it are its `earlier_rules`.
    """

    name = models.CharField(max_length=80, unique=True)
    slug = models.SlugField(max_length=80, unique=True)
    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    series_id = models.UUIDField(
        default=uuid.uuid4,
        unique=True,
        editable=False,
        help_text="Identity of the present rule in calendars; a new rule is a new series.",
    )
    description = models.TextField(blank=True, help_text="Shown to everybody.")
    ends_on = models.DateField(
        null=True, blank=True, help_text="Last date on which it may meet, if there is one."
    )
    manager = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="managed_nets"
    )
    guest_of = models.CharField(
        "run by guests",
        max_length=80,
        blank=True,
        help_text="The other club or group whose net this is; empty for the club's own.",
    )
    guest_class = models.ForeignKey(
        LicenceClass,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="guest_nets",
        verbose_name="licence class of their net control",
        help_text="As they tell it, if the club's table knows it.",
    )
    script = models.TextField(blank=True, help_text="What net control reads, in order.")
    minimum_margin_db = models.FloatField(
        "least margin",
        default=6.0,
        validators=[MinValueValidator(-10), MaxValueValidator(40)],
        help_text="dB that net control must have in both directions.",
    )
    minimum_probability = models.FloatField(
        "least probability",
        default=0.8,
        validators=[MinValueValidator(0), MaxValueValidator(1)],
        help_text="Of a usable signal in both directions, 0 to 1.",
    )
    is_active = models.BooleanField(default=True)
    sequence = models.PositiveIntegerField(default=0, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(relay__isnull=False, simplex_mhz__isnull=True)
                | Q(relay__isnull=True, simplex_mhz__isnull=False),
                name="net_on_a_relay_or_simplex",
            ),
            models.CheckConstraint(condition=Q(duration_min__gte=5), name="net_duration"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def last_date(self) -> dt.date | None:
        """The last local date that the rule may give."""
        return self.ends_on

    def clean(self) -> None:
        if self.relay_id is None and self.simplex_mhz is None:
            neither = (
                "Give a relay or a simplex frequency: one of the two, so that people know where to listen."
            )
            raise ValidationError({"relay": neither})
        if self.relay is not None and self.simplex_mhz is not None:
            both = (
                f"Both {self.relay.name} and {self.simplex_mhz:.3f} MHz simplex are given; people can listen in "
                "one place only, so take one of them out."
            )
            raise ValidationError({"simplex_mhz": both})
        if self.guest_class_id is not None and not self.guest_of.strip():
            nobody = "A class of guests is given, and no guests; name the club or group whose net this is."
            raise ValidationError({"guest_of": nobody})
        if self.simplex_mhz is not None:
            problems = bands.check_simplex(self.simplex_mhz, settings.CLUB_BAND_PROFILE)
            if wrong := [each.sentence for each in problems if each.is_error]:
                raise ValidationError({"simplex_mhz": wrong})
        if self.ends_on and self.first_date and self.ends_on < self.first_date:
            wrong_end = (
                f"It would end on {self.ends_on}, before it begins on {self.first_date}; give a later date."
            )
            raise ValidationError({"ends_on": wrong_end})


class EarlierRule(HowItMeets):
    """How a net met before its rule was changed: in force from `first_date` to `last_date`, both included.

    Calendars show it as a series of its own that ends, so that what was held stays as it was. It may still
    be in force when a change has been announced for a later date.
    """

    net = models.ForeignKey(Net, on_delete=models.CASCADE, related_name="earlier_rules")
    series_id = models.UUIDField(unique=True, editable=False, help_text="Its identity in calendars.")
    last_date = models.DateField()
    sequence = models.PositiveIntegerField(default=0, editable=False)
    created_at = models.DateTimeField(editable=False)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["net", "last_date"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_date__gte=F("first_date")), name="earlier_rule_ends_after_it_starts"
            ),
            models.UniqueConstraint(fields=["net", "last_date"], name="earlier_rule_one_ends_a_date"),
        ]

    def __str__(self) -> str:
        return f"{self.net} until {self.last_date}"
