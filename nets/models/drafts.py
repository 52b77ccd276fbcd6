"""A rota while it is being made: what was asked, what came out, and what people wish."""

from __future__ import annotations

from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from clubops.members.models import Member, Station
from nets.models.nets import Net
from nets.models.rota import Duty
from nets.models.sessions import Session


class TurnWish(models.Model):
    """How often somebody wants to be in a chair at most, where that is not what the club asks for."""

    member = models.OneToOneField(Member, on_delete=models.CASCADE, related_name="turn_wish")
    most_turns = models.PositiveSmallIntegerField(
        "most turns",
        null=True,
        blank=True,
        validators=[MaxValueValidator(26)],
        help_text="In a quarter of the year, either chair, 0 to 26. Leave empty for no limit of your own.",
    )
    minimum_gap_days = models.PositiveSmallIntegerField(
        "days between turns",
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(92)],
        help_text="From one turn to the next, 1 to 92: 14 is every second week at most. Leave empty for the club's.",
    )

    class Meta:
        verbose_name_plural = "turn wishes"
        ordering = ["member"]

    def __str__(self) -> str:
        return f"wishes of {self.member.call_sign}"


class Refusal(models.Model):
    """Somebody said no to a turn in this session: the rota does not ask them again."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="refusals")
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="refusals")
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["session", "member"]
        constraints = [models.UniqueConstraint(fields=["session", "member"], name="refusal_once")]

    def __str__(self) -> str:
        return f"{self.member.call_sign} declined {self.session}"


class RotaDraft(models.Model):
    """A rota asked for, solved and not yet published. The row is the whole truth about the work to do."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting for a worker"
        SOLVING = "solving", "being worked out"
        READY = "ready", "ready to be looked at"
        FAILED = "failed", "could not be worked out"
        PUBLISHED = "published", "published"
        DISCARDED = "discarded", "discarded"

    net = models.ForeignKey(
        Net,
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="drafts",
        help_text="Empty for every net.",
    )
    weeks = models.PositiveSmallIntegerField(
        default=12,
        validators=[MinValueValidator(1), MaxValueValidator(104)],
        help_text="How far ahead, 1 to 104.",
    )
    minimum_gap_days = models.PositiveSmallIntegerField(
        "days between turns",
        default=7,
        validators=[MinValueValidator(1), MaxValueValidator(92)],
        help_text="Of one person, 1 to 92, unless they wish for more. 7 is once a week at most, 8 never two running.",
    )
    most_turns = models.PositiveSmallIntegerField(
        "most turns",
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(26)],
        help_text="Of one person in a quarter of the year, 1 to 26, unless they wish for fewer. Empty for no limit.",
    )
    only_empty_chairs = models.BooleanField(
        default=False, help_text="Leave everybody who has a turn where they are and fill only what is empty."
    )
    made_by = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="drafts"
    )
    made_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    claimed_at = models.DateTimeField(null=True, blank=True)
    progress = models.CharField(max_length=60, blank=True, help_text="The aim being worked on.")
    trouble = models.CharField(max_length=300, blank=True, help_text="Why it could not be worked out.")
    stages = models.JSONField(default=list, help_text="Each aim: value reached, best possible, seconds.")
    facts = models.JSONField(default=dict, help_text="What it rests on; compared before it is published.")
    settled_at = models.DateTimeField(null=True, blank=True, help_text="When it was published or discarded.")
    settled_by = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="settled_drafts"
    )

    class Meta:
        ordering = ["-made_at", "-pk"]
        indexes = [models.Index(fields=["state", "made_at"], name="draft_state_made")]

    def __str__(self) -> str:
        return f"rota of {self.net or 'every net'} made {self.made_at:%Y-%m-%d %H:%M}"

    @property
    def is_open(self) -> bool:
        """Neither published nor thrown away."""
        return self.state not in {self.State.PUBLISHED, self.State.DISCARDED}

    @property
    def is_at_work(self) -> bool:
        return self.state in {self.State.WAITING, self.State.SOLVING}

    @property
    def is_proven(self) -> bool:
        """Nothing better exists."""
        return bool(self.stages) and all(stage["objective"] <= stage["bound"] for stage in self.stages)

    @property
    def seconds(self) -> float:
        return sum(stage["seconds"] for stage in self.stages)

    def stage(self, aim: str) -> dict[str, Any]:
        """The named aim, or an empty dict where the draft has none."""
        return next((stage for stage in self.stages if stage["aim"] == aim), {})


class DraftTurn(models.Model):
    """One chair of a draft: who would take it, or why it would stay empty."""

    draft = models.ForeignKey(RotaDraft, on_delete=models.CASCADE, related_name="turns")
    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="draft_turns")
    role = models.CharField(max_length=12, choices=Duty.Role)
    member = models.ForeignKey(Member, null=True, on_delete=models.CASCADE, related_name="draft_turns")
    station = models.ForeignKey(Station, null=True, on_delete=models.SET_NULL, related_name="draft_turns")
    is_kept = models.BooleanField(default=False, help_text="It was confirmed or locked, so it was not moved.")
    standing = models.CharField(max_length=20, blank=True, help_text="The verdict on the path, by its key.")
    margin_db = models.FloatField(null=True)
    reason = models.TextField(blank=True, help_text="Why the chair is empty.")

    class Meta:
        ordering = ["session__starts_at", "-role"]
        constraints = [
            models.UniqueConstraint(fields=["draft", "session", "role"], name="draft_turn_once_a_chair"),
            models.CheckConstraint(
                condition=Q(member__isnull=True) | Q(reason=""), name="draft_turn_reason_only_when_empty"
            ),
        ]

    def __str__(self) -> str:
        return (
            f"{self.member.call_sign if self.member else 'nobody'} {self.get_role_display()} {self.session}"
        )
