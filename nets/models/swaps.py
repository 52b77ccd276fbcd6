"""Turns that people offer to each other."""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import F, Q

from clubops.members.models import Member
from nets.models.rota import Duty
from nets.models.sessions import Session


class SwapOffer(models.Model):
    """Somebody would like to give a turn away, to one person or to whoever can take it.

    The chair is named by session and role, not by the duty's row: the offer holds as long as `offered_by` sits in
    it, however often the row was written again. With a return, the other person's chair is taken in exchange.
    """

    class State(models.TextChoices):
        OPEN = "open", "open"
        ACCEPTED = "accepted", "taken over"
        DECLINED = "declined", "declined"
        WITHDRAWN = "withdrawn", "withdrawn"
        EXPIRED = "expired", "no longer open"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="swap_offers")
    role = models.CharField(max_length=12, choices=Duty.Role)
    offered_by = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="swaps_offered")
    offered_to = models.ForeignKey(
        Member,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="swaps_for_me",
        help_text="Empty: anybody.",
    )
    return_session = models.ForeignKey(
        Session, null=True, blank=True, on_delete=models.CASCADE, related_name="swap_returns"
    )
    return_role = models.CharField(max_length=12, choices=Duty.Role, blank=True)
    note = models.CharField(max_length=200, blank=True, help_text="A word to whoever takes it.")
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    settled_at = models.DateTimeField(null=True, blank=True)
    taken_by = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.PROTECT, related_name="swaps_taken"
    )

    class Meta:
        ordering = ["session__starts_at", "-role"]
        constraints = [
            models.UniqueConstraint(
                fields=["session", "role"], condition=Q(state="open"), name="swap_one_open_a_chair"
            ),
            models.CheckConstraint(
                condition=Q(offered_to__isnull=True) | ~Q(offered_to=F("offered_by")),
                name="swap_not_with_oneself",
            ),
            models.CheckConstraint(
                condition=Q(return_session__isnull=True, return_role="")
                | Q(return_session__isnull=False, offered_to__isnull=False) & ~Q(return_role=""),
                name="swap_return_is_a_chair_of_somebody_named",
            ),
            models.CheckConstraint(
                condition=~Q(state="accepted") | Q(taken_by__isnull=False), name="swap_taken_by_somebody"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.offered_by.call_sign} offers {self.get_role_display()} {self.session}"

    def is_open(self, now: dt.datetime) -> bool:
        """Still to be had at `now`. Whether the giver still holds the chair is asked when it is taken."""
        return self.state == self.State.OPEN and now < self.expires_at
