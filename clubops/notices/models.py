"""The ledger: a row for everything the club sends, what came of it, and what people chose to get."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from clubops.members.models import Member


class Notice(models.Model):
    """One thing to tell one person, once.

    A rule wanted it (`key`, `due_at`, `not_after`); the outbox carries it through its states. What it says is
    written only when it is sent. A notice with `carried_by` travels in the mail of another one and shares its
    fate.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        CLAIMED = "claimed", "being sent"
        SENT = "sent", "sent"
        FAILED = "failed", "could not be sent"
        MISSED = "missed", "too late to send"
        WITHDRAWN = "withdrawn", "no longer needed"

    key = models.CharField(
        max_length=200, unique=True, help_text="The same for the same wish, however often it is made."
    )
    recipient = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="notices")
    kind = models.CharField(max_length=40)
    subject_key = models.CharField("about", max_length=80, help_text="Such as duty:12.")
    title = models.CharField(max_length=200, help_text="What it is about, for lists.")
    due_at = models.DateTimeField("due")
    not_after = models.DateTimeField(help_text="Later than this it would be nonsense.")
    event_at = models.DateTimeField(null=True, blank=True, help_text="When that which it is about happens.")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField()
    carried_by = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="carries",
        verbose_name="in the mail of",
    )
    claim_token = models.UUIDField(null=True, blank=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField("sent", null=True, blank=True)
    message_id = models.CharField("Message-ID", max_length=200, unique=True)
    told = models.JSONField(
        null=True, blank=True, help_text="Facts the mail stated, kept so that a change can be told."
    )
    error = models.CharField(
        "reason", max_length=300, blank=True, help_text="Why it was not sent, or not yet."
    )
    resent_at = models.DateTimeField(
        null=True, blank=True, help_text="When an officer asked for another try."
    )
    needs_report = models.BooleanField(default=False)
    report = models.ForeignKey(
        "self",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="reports_on",
        verbose_name="reported in",
    )
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["due_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    state="claimed",
                    carried_by__isnull=True,
                    claim_token__isnull=False,
                    claimed_at__isnull=False,
                    lease_until__isnull=False,
                )
                | Q(
                    state="claimed",
                    carried_by__isnull=False,
                    claim_token__isnull=True,
                    lease_until__isnull=True,
                )
                | (~Q(state="claimed") & Q(claim_token__isnull=True, lease_until__isnull=True)),
                name="notice_claim_has_a_lease",
            ),
            models.CheckConstraint(
                condition=Q(state="sent", sent_at__isnull=False)
                | (~Q(state="sent") & Q(sent_at__isnull=True)),
                name="notice_sent_has_a_time",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["failed", "missed", "withdrawn"]) | ~Q(error=""),
                name="notice_unsent_has_a_reason",
            ),
            models.CheckConstraint(
                condition=Q(not_after__gte=F("due_at")), name="notice_due_before_too_late"
            ),
            models.CheckConstraint(
                condition=Q(state__in=["waiting", "claimed", "sent", "failed", "missed", "withdrawn"]),
                name="notice_known_state",
            ),
        ]
        indexes = [
            models.Index(fields=["state", "next_try_at"], name="notice_state_next_try"),
            models.Index(fields=["kind", "state"], name="notice_kind_state"),
            models.Index(fields=["subject_key"], name="notice_subject"),
            models.Index(fields=["needs_report"], condition=Q(needs_report=True), name="notice_needs_report"),
        ]

    def __str__(self) -> str:
        return self.title or self.key

    @property
    def is_open(self) -> bool:
        """It may still be sent."""
        return self.state in (self.State.WAITING, self.State.CLAIMED)


class Choice(models.Model):
    """What one person has chosen. Without a row the club's defaults hold."""

    member = models.OneToOneField(Member, on_delete=models.CASCADE, related_name="notice_choice")
    one_mail = models.BooleanField(
        "one mail for several notices",
        default=True,
        help_text="What is due at the same time comes in one mail.",
    )
    quiet_from = models.TimeField(
        null=True, blank=True, help_text="Your own time. Empty for the club's quiet hours."
    )
    quiet_until = models.TimeField(null=True, blank=True)
    language = models.CharField(
        max_length=10, blank=True, help_text="Of mail and the private calendar. Empty for the club's."
    )
    unwanted = models.JSONField(
        default=list, blank=True, help_text="Names of the kinds this person does not want."
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(quiet_from__isnull=True, quiet_until__isnull=True)
                | Q(quiet_from__isnull=False, quiet_until__isnull=False),
                name="choice_quiet_hours_have_both_ends",
                violation_error_message="Give both ends of your quiet hours, or leave both empty.",
            )
        ]

    def __str__(self) -> str:
        return f"choices of {self.member.call_sign}"

    def clean(self) -> None:
        if (self.quiet_from is None) != (self.quiet_until is None):
            raise ValidationError({"quiet_until": "Give both ends of your quiet hours, or leave both empty."})


class Heartbeat(models.Model):
    """When a regular job last ran, and what it said about its surroundings."""

    name = models.CharField(max_length=60, primary_key=True)
    ran_at = models.DateTimeField()
    problem = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return f"{self.name} at {self.ran_at:%Y-%m-%d %H:%M:%S} UTC"
