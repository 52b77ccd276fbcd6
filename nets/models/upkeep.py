"""What private calendars last said of upkeep duties."""

from __future__ import annotations

from django.db import models

from clubops.members.models import Member


class UpkeepEntry(models.Model):
    """What a member's calendar last said of one task, and how often that has changed.

    It outlives the task, so that a number never falls and the end of a duty can still be told. `facts` are what was
    said (JSON values).
    """

    seed = models.CharField(max_length=120, unique=True, help_text="The task and the member.")
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="upkeep_entries")
    facts = models.JSONField(default=dict)
    sequence = models.PositiveIntegerField(default=0)
    digest = models.CharField(max_length=32)
    created_at = models.DateTimeField()
    modified_at = models.DateTimeField()

    class Meta:
        ordering = ["member", "seed"]

    def __str__(self) -> str:
        return f"upkeep {self.seed}"
