"""What is read off a meter when upkeep is done, and each value that was read."""

from __future__ import annotations

import math
import uuid

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from clubops.members.models import Member
from relays.models.upkeep import UpkeepRecord, UpkeepTask


class ReadingKind(models.Model):
    """Something read off a meter when a task is done. The limits warn; what they are is the steward's to say."""

    task = models.ForeignKey(UpkeepTask, on_delete=models.PROTECT, related_name="reading_kinds")
    name = models.CharField(max_length=60, help_text="Such as Resting voltage.")
    unit = models.CharField(
        max_length=12, blank=True, help_text="Such as V, W or dB. Empty for a bare ratio."
    )
    low = models.FloatField("low limit", null=True, blank=True, help_text="Below this it warns.")
    high = models.FloatField("high limit", null=True, blank=True, help_text="Above this it warns.")
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["task", "name"]
        constraints = [
            models.UniqueConstraint(fields=["task", "name"], name="reading_kind_once_a_task"),
            models.CheckConstraint(
                condition=Q(low__isnull=True) | Q(high__isnull=True) | Q(low__lt=F("high")),
                name="reading_kind_low_below_high",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.task.where}"

    def clean(self) -> None:
        for field in ("low", "high"):
            value = getattr(self, field)
            if value is not None and not math.isfinite(value):
                raise ValidationError({field: "A limit is a plain number, such as 12.2."})
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise ValidationError(
                {"low": f"The low limit {self.low:g} is not below the high limit {self.high:g}; swap them."}
            )


class Reading(models.Model):
    """One value, when it was read and by whom."""

    kind = models.ForeignKey(ReadingKind, on_delete=models.PROTECT, related_name="readings")
    value = models.FloatField()
    at = models.DateTimeField()
    by = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="upkeep_readings"
    )
    record = models.ForeignKey(
        UpkeepRecord, null=True, blank=True, on_delete=models.CASCADE, related_name="readings"
    )
    token = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["record", "kind"], name="reading_once_a_record"),
        ]
        indexes = [models.Index(fields=["kind", "-at"], name="reading_kind_at")]

    def __str__(self) -> str:
        return f"{self.kind.name} {self.value:g} {self.kind.unit}".strip()
