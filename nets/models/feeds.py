"""Addresses and stored bytes of the calendars, and what they last said of each entry."""

from __future__ import annotations

import secrets

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import F, Q

from clubops.members.models import Member
from nets.models.nets import Net
from relays.models import Relay

MOST_ALARM_MIN = 7 * 24 * 60


def new_token() -> str:
    """256 random bits, safe in an address."""
    return secrets.token_urlsafe(32)


class FeedKey(models.Model):
    """The secret part of a member's calendar address. Revoking it makes the address answer 404 for good."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="feed_keys")
    token = models.CharField(max_length=64, unique=True, default=new_token, editable=False)
    alarm_before_min = models.PositiveSmallIntegerField(
        "alarm",
        null=True,
        blank=True,
        validators=[MaxValueValidator(MOST_ALARM_MIN)],
        help_text="Minutes before a duty at which the calendar program gives an alarm; empty for none.",
    )
    created_at = models.DateTimeField(auto_now_add=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["member"], condition=Q(revoked_at__isnull=True), name="feed_key_one_live_a_member"
            )
        ]

    def __str__(self) -> str:
        return f"calendar of {self.member.call_sign}"


class StoredCalendar(models.Model):
    """A built calendar: what a feed request answers with, without building anything.

    `touched` counts changes of what it is made from; `built` is the count it was last built for. It is stale
    while the two differ. Until it is first built it has no bytes and no `modified_at`.
    """

    key = models.CharField(max_length=120, unique=True, help_text="Such as net:12, net:12/alarms or club.")
    net = models.ForeignKey(Net, null=True, on_delete=models.CASCADE, related_name="calendars")
    relay = models.ForeignKey(Relay, null=True, on_delete=models.CASCADE, related_name="calendars")
    member = models.ForeignKey(Member, null=True, on_delete=models.CASCADE, related_name="calendars")
    has_alarms = models.BooleanField(default=False)
    body = models.BinaryField(default=b"")
    body_gzip = models.BinaryField(default=b"")
    etag = models.CharField(max_length=80, blank=True, help_text="Of the plain bytes; see etag_gzip.")
    modified_at = models.DateTimeField(null=True)
    touched = models.PositiveBigIntegerField(default=1)
    built = models.PositiveBigIntegerField(default=0)

    class Meta:
        ordering = ["key"]
        constraints = [
            models.CheckConstraint(condition=Q(built__lte=F("touched")), name="calendar_built_after_touched"),
            models.CheckConstraint(
                condition=Q(etag="", modified_at__isnull=True) | Q(~Q(etag=""), modified_at__isnull=False),
                name="calendar_with_bytes_has_a_date",
            ),
        ]

    def __str__(self) -> str:
        return self.key


class CalendarEntry(models.Model):
    """What calendars last said of one series, session or duty, and how often that has changed.

    It outlives the row it speaks of, so that a number never falls when a row is made again, and the end of
    what is gone can still be told. `facts` are what was said (JSON values).
    """

    class Kind(models.TextChoices):
        NET = "net", "series of a net"
        SESSION = "session", "session that departs from its rule"
        DUTY = "duty", "duty"

    kind = models.CharField(max_length=8, choices=Kind)
    seed = models.CharField(max_length=120, help_text="Its identity, unique in the world.")
    net = models.ForeignKey(Net, on_delete=models.CASCADE, related_name="calendar_entries")
    member = models.ForeignKey(
        Member, null=True, on_delete=models.CASCADE, related_name="calendar_entries", help_text="Of a duty."
    )
    occurrence_date = models.DateField(null=True)
    ends_at = models.DateTimeField(null=True, help_text="Empty for a series.")
    facts = models.JSONField(default=dict)
    sequence = models.PositiveIntegerField(default=0)
    digest = models.CharField(max_length=32)
    created_at = models.DateTimeField()
    modified_at = models.DateTimeField()

    class Meta:
        ordering = ["net", "kind", "seed"]
        constraints = [models.UniqueConstraint(fields=["kind", "seed"], name="calendar_entry_once")]
        indexes = [
            models.Index(fields=["net", "ends_at"], name="calendar_entry_net_end"),
            models.Index(fields=["member", "ends_at"], name="calendar_entry_member_end"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.seed}"
