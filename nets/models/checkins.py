"""The log of a session: who called in, what was corrected, who was on the roll."""

from __future__ import annotations

import uuid
from typing import Any, NoReturn

from django.db import models
from django.db.models import F, Q

from clubops.members import callsigns
from clubops.members.models import Member, Station
from nets.models.sessions import Session
from relays.models import Relay

CALL_SIGN_LENGTH = 16
KEEPER_LENGTH = 150


class SessionLog(models.Model):
    """The cover sheet of a session's log. Its row is the lock under which everything in the log is written."""

    session = models.OneToOneField(Session, on_delete=models.PROTECT, related_name="log")
    net_control = models.ForeignKey(
        Member,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="logs",
        help_text="Who was net control in the end, whatever the rota said.",
    )
    opened_at = models.DateTimeField(null=True, blank=True)
    opened_by = models.CharField(max_length=KEEPER_LENGTH, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.CharField(max_length=KEEPER_LENGTH, blank=True)
    remark = models.TextField(blank=True, help_text="What the next net control should know.")
    summary = models.JSONField(
        default=dict, blank=True, editable=False, help_text="The figures as they stood at closing."
    )
    events = models.JSONField(
        default=list, blank=True, editable=False, help_text="Opened, closed, reopened: what, who, when."
    )
    # Rises by one with every change, under the row's lock: a reader who has seen n has seen all up to n.
    version = models.PositiveBigIntegerField(default=0, editable=False)

    class Meta:
        ordering = ["-session__starts_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("opened_at")),
                name="log_closes_after_it_opens",
            )
        ]

    def __str__(self) -> str:
        return f"log of {self.session}"

    @property
    def is_open(self) -> bool:
        return self.opened_at is not None and self.closed_at is None

    @property
    def is_closed(self) -> bool:
        return self.closed_at is not None


class CheckIn(models.Model):
    """One station heard in one session.

    `key` is made by the browser that logged it: the same key sent again is the same check-in. A row is never
    deleted; one that was a mistake is struck out.
    """

    class Via(models.TextChoices):
        RELAY = "relay", "relay"
        LINK = "link", "link"
        SIMPLEX = "simplex", "simplex"
        STATION = "station", "through another station"

    # The four precedences of amateur message traffic, in the order in which they are handled last to first.
    class Traffic(models.TextChoices):
        NONE = "", "no traffic"
        ROUTINE = "routine", "routine"
        WELFARE = "welfare", "welfare"
        PRIORITY = "priority", "priority"
        EMERGENCY = "emergency", "emergency"

    key = models.UUIDField(unique=True, editable=False)
    session = models.ForeignKey(Session, on_delete=models.PROTECT, related_name="check_ins")
    call_sign = models.CharField(
        max_length=CALL_SIGN_LENGTH, db_index=True, help_text="As far as it was heard; it may be part of one."
    )
    member = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="check_ins"
    )
    is_visitor = models.BooleanField(default=False, help_text="Not on the roster that night.")
    name = models.CharField(max_length=120, blank=True)
    place = models.CharField(max_length=120, blank=True, help_text="As given on the air.")
    heard_at = models.DateTimeField()
    is_late_entry = models.BooleanField(
        "late entry", default=False, help_text="The time was typed in afterwards."
    )
    report = models.CharField(
        "signal report", max_length=20, blank=True, help_text="Readability 1 to 5, strength 1 to 9; or words."
    )
    via = models.CharField(max_length=8, choices=Via)
    relay = models.ForeignKey(
        Relay,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="check_ins",
        help_text="The relay that heard them; through another station, the one that did not.",
    )
    via_note = models.CharField(
        max_length=80, blank=True, help_text="Which link, which frequency, which station."
    )
    traffic = models.CharField(max_length=9, choices=Traffic, default=Traffic.NONE, blank=True)
    notes = models.TextField(blank=True)
    is_struck = models.BooleanField("struck out", default=False)
    logged_by = models.CharField(max_length=KEEPER_LENGTH)
    received_at = models.DateTimeField(help_text="When it reached the club's site.")
    is_after_closing = models.BooleanField(default=False)
    station = models.ForeignKey(
        Station, null=True, blank=True, on_delete=models.SET_NULL, related_name="check_ins"
    )
    predicted_margin_db = models.FloatField(
        null=True, blank=True, help_text="Of the way into the relay, as it was predicted that night."
    )
    predicted_probability = models.FloatField(null=True, blank=True)
    version = models.PositiveBigIntegerField(default=0, editable=False)

    class Meta:
        ordering = ["heard_at", "pk"]
        verbose_name = "check-in"
        indexes = [models.Index(fields=["session", "version"], name="check_in_session_version")]
        constraints = [
            models.CheckConstraint(condition=~Q(call_sign=""), name="check_in_has_a_call_sign"),
            models.CheckConstraint(
                condition=Q(via__in=["relay", "station"]) | Q(relay__isnull=True),
                name="check_in_relay_fits_the_way",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.call_sign} in {self.session}"

    @property
    def is_whole(self) -> bool:
        """False where only part of the call sign was heard, or it is a tactical call."""
        return callsigns.is_well_formed(self.call_sign)

    @property
    def readability(self) -> int | None:
        """1 to 5 where the report begins with such a digit and has nothing but digits."""
        digits = self.report
        return int(digits[0]) if digits.isdecimal() and len(digits) <= 3 and digits[0] in "12345" else None

    @property
    def path_words(self) -> str:
        """By what path they were heard: a relay's name, "link", "simplex", each with its note."""
        name = self.relay.name if self.relay and self.via == self.Via.RELAY else self.get_via_display()
        return f"{name} ({self.via_note})" if self.via_note else name


class NotForChanging(TypeError):
    """Somebody tried to change or delete a row of a history that only grows."""


class Correction(models.Model):
    """One change of a check-in: who, when, what it said before and says now. Rows are only ever added."""

    key = models.UUIDField(unique=True, editable=False)
    check_in = models.ForeignKey(CheckIn, on_delete=models.PROTECT, related_name="corrections")
    number = models.PositiveIntegerField()
    made_by = models.CharField(max_length=KEEPER_LENGTH)
    made_at = models.DateTimeField(help_text="When it reached the club's site.")
    before = models.JSONField(help_text="Only the fields that changed.")
    after = models.JSONField()
    is_after_closing = models.BooleanField(default=False)

    class Meta:
        ordering = ["check_in", "number"]
        constraints = [
            models.UniqueConstraint(fields=["check_in", "number"], name="correction_numbers_in_order")
        ]

    def __str__(self) -> str:
        return f"correction {self.number} of {self.check_in}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise NotForChanging("A correction is never changed; make another one.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise NotForChanging("A correction is never deleted; make another one.")


class RollCall(models.Model):
    """One line of the list that net control reads out.

    Whether they answered is not kept here: a check-in of that call sign says so. `key` becomes the key of the
    check-in made by ticking the line, so that two people ticking it make one.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "to be called"
        NO_ANSWER = "no_answer", "no answer"
        OFF = "off", "taken off the list"

    key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="roll")
    position = models.PositiveIntegerField()
    call_sign = models.CharField(max_length=CALL_SIGN_LENGTH)
    name = models.CharField(max_length=120, blank=True)
    member = models.ForeignKey(Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    changed_by = models.CharField(max_length=KEEPER_LENGTH, blank=True)
    called_at = models.DateTimeField(null=True, blank=True)
    predicted_margin_db = models.FloatField(null=True, blank=True)
    version = models.PositiveBigIntegerField(default=0, editable=False)

    class Meta:
        ordering = ["session", "position"]
        verbose_name = "line of a roll call"
        verbose_name_plural = "roll calls"
        constraints = [
            models.UniqueConstraint(fields=["session", "call_sign"], name="roll_call_once_a_session")
        ]

    def __str__(self) -> str:
        return f"{self.call_sign} on the roll of {self.session}"
