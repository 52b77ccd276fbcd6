"""One occurrence of a net."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from nets.models.nets import Net
from relays.models import Relay


class Session(models.Model):
    """One meeting. `occurrence_wall` is its identity in the rule and never changes; the start may move."""

    class State(models.TextChoices):
        SCHEDULED = "scheduled", "scheduled"
        CANCELLED = "cancelled", "cancelled"
        HELD = "held", "held"

    net = models.ForeignKey(Net, on_delete=models.CASCADE, related_name="sessions")
    occurrence_wall = models.CharField(
        max_length=16, editable=False, help_text="Wall time the rule gave, in the net's zone: 2026-12-01T19:30."
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.SCHEDULED)
    is_extra = models.BooleanField(default=False, editable=False, help_text="Added by hand, outside the rule.")
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
            models.UniqueConstraint(fields=["net", "occurrence_wall"], name="session_once_an_occurrence"),
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="session_ends_after_it_starts"),
        ]
        indexes = [models.Index(fields=["state", "starts_at"], name="session_state_start")]

    def __str__(self) -> str:
        return f"{self.net} {self.occurrence_wall}"

    @property
    def relay_in_use(self) -> Relay | None:
        """Tonight's relay; None on a simplex net."""
        return self.relay or self.net.relay
