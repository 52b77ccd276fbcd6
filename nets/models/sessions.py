"""One occurrence of a net."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from nets.models.nets import EarlierRule, Net
from relays.models import Relay


class Session(models.Model):
    """One meeting of a net.

    `occurrence_date` is its identity: the local date on which the rule placed it. It stays when the net's
    hour, zone or length is edited and when tonight's session moves, so duties and calendar entries stay
    with it. A net therefore meets at most once a local date; a second meeting that day is another net.
    """

    class State(models.TextChoices):
        SCHEDULED = "scheduled", "scheduled"
        CANCELLED = "cancelled", "cancelled"
        HELD = "held", "held"

    net = models.ForeignKey(Net, on_delete=models.CASCADE, related_name="sessions")
    earlier_rule = models.ForeignKey(
        EarlierRule,
        null=True,
        blank=True,
        editable=False,
        on_delete=models.SET_NULL,
        related_name="sessions",
        help_text="The rule that was in force on its date, if not the net's present one.",
    )
    occurrence_date = models.DateField(help_text="The date in the net's own zone.")
    moved_to = models.DateTimeField(
        null=True, blank=True, help_text="Set when this session meets at another time than the rule gives."
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.SCHEDULED)
    is_extra = models.BooleanField(
        default=False, editable=False, help_text="Added by hand, outside the rule."
    )
    relay = models.ForeignKey(
        Relay,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="moved_sessions",
        help_text="Another relay tonight, if not the net's own.",
    )
    note = models.CharField(max_length=200, blank=True, help_text="Shown to everybody.")
    sequence = models.PositiveIntegerField(default=0, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["net", "occurrence_date"], name="session_once_an_occurrence"),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="session_ends_after_it_starts"
            ),
        ]
        indexes = [models.Index(fields=["state", "starts_at"], name="session_state_start")]

    def __str__(self) -> str:
        return f"{self.net} {self.occurrence_date}"

    @property
    def terms(self) -> Net | EarlierRule:
        """Where and for how long the net meets by the rule in force on this session's date."""
        return self.earlier_rule or self.net

    @property
    def relay_in_use(self) -> Relay | None:
        """Tonight's relay; None on a simplex net."""
        return self.relay or self.terms.relay
