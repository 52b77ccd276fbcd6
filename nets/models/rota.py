"""Who runs a session, and when people are away."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from clubops.members.models import Member, Station
from nets.models.sessions import Session


class Duty(models.Model):
    """One chair at one session, and the person in it."""

    class Role(models.TextChoices):
        NET_CONTROL = "net_control", "net control"
        BACKUP = "backup", "backup control"

    class State(models.TextChoices):
        ASSIGNED = "assigned", "not yet confirmed"
        CONFIRMED = "confirmed", "confirmed"
        DECLINED = "declined", "declined"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="duties")
    role = models.CharField(max_length=12, choices=Role)
    member = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="duties")
    station = models.ForeignKey(
        Station,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="duties",
        help_text="Where they transmit from that night.",
    )
    state = models.CharField(max_length=10, choices=State, default=State.ASSIGNED)
    is_locked = models.BooleanField(default=False, help_text="Kept as it is when the rota is made again.")
    overrule_reason = models.CharField(
        max_length=300, blank=True, help_text="Why an officer put them here without a usable path."
    )
    overruled_by = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="overrules"
    )
    sequence = models.PositiveIntegerField(default=0, editable=False)
    assigned_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["session__starts_at", "-role"]
        verbose_name_plural = "duties"
        constraints = [
            models.UniqueConstraint(fields=["session", "role"], name="duty_one_person_a_chair"),
            models.UniqueConstraint(fields=["session", "member"], name="duty_one_chair_a_person"),
            models.CheckConstraint(
                condition=Q(overrule_reason="") | Q(overruled_by__isnull=False),
                name="duty_overrule_has_an_officer",
                violation_error_message="An overrule needs the officer who made it.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.member.call_sign} {self.get_role_display()} {self.session}"


class Absence(models.Model):
    """Days on which a member takes no duty, both ends included, in the member's own zone."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="absences")
    first_date = models.DateField()
    last_date = models.DateField()
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["first_date"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_date__gte=F("first_date")), name="absence_ends_after_it_starts"
            )
        ]

    def __str__(self) -> str:
        return f"{self.member.call_sign} {self.first_date} to {self.last_date}"

    def clean(self) -> None:
        if self.first_date and self.last_date and self.last_date < self.first_date:
            raise ValidationError(
                {"last_date": f"The last day {self.last_date} is before the first day {self.first_date}."}
            )
