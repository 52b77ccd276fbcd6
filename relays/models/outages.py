"""A span of time in which a relay is not what it usually is: off the air, or heard less far."""

from __future__ import annotations

import datetime as dt
import uuid

from django.db import models
from django.db.models import F, Q

from clubops.members.models import Member
from relays.models.relays import Relay


class Outage(models.Model):
    """One outage of one relay, half-open: from `starts_at` until before `ends_at`, or with no end known yet.

    The standing status of the relay stays the stewards' word for years; an outage is for hours and days, and ends
    by itself. Two outages of one relay never overlap (`relays.outages` keeps that under a lock).
    """

    class Kind(models.TextChoices):
        PLANNED = "planned", "planned"
        UNPLANNED = "unplanned", "unplanned"

    class Effect(models.TextChoices):
        OFF_AIR = "off_air", "off the air"
        REDUCED = "reduced", "on the air, reduced"

    relay = models.ForeignKey(Relay, on_delete=models.CASCADE, related_name="outages")
    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.PLANNED)
    effect = models.CharField(max_length=10, choices=Effect, default=Effect.OFF_AIR)
    starts_at = models.DateTimeField("from")
    ends_at = models.DateTimeField("until", null=True, blank=True, help_text="Empty while nobody knows.")
    reason = models.CharField(max_length=200, help_text="Shown to everybody; no names, no gate codes.")
    reported_by = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="reported_outages"
    )
    called_off_at = models.DateTimeField("called off", null=True, blank=True)
    sequence = models.PositiveIntegerField(default=0, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["starts_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_at__isnull=True) | Q(ends_at__gt=F("starts_at")),
                name="outage_ends_after_it_starts",
                violation_error_message="An outage ends after it has begun.",
            ),
            models.CheckConstraint(
                condition=Q(ends_at__isnull=False) | Q(kind="unplanned"), name="outage_planned_has_an_end"
            ),
        ]
        indexes = [models.Index(fields=["relay", "starts_at"], name="outage_relay_starts")]

    def __str__(self) -> str:
        return f"{self.relay.name}, {self.get_effect_display()} from {self.starts_at:%Y-%m-%d %H:%M} UTC"

    @property
    def is_called_off(self) -> bool:
        return self.called_off_at is not None

    @property
    def silences(self) -> bool:
        """Nobody can use the relay while it lasts."""
        return self.effect == self.Effect.OFF_AIR and not self.is_called_off

    def covers(self, at: dt.datetime) -> bool:
        return self.starts_at <= at and (self.ends_at is None or at < self.ends_at)

    def overlaps(self, start: dt.datetime, end: dt.datetime) -> bool:
        """Whether it and the half-open span have any instant in common."""
        return self.starts_at < end and (self.ends_at is None or start < self.ends_at)
