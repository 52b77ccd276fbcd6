"""One computed raster of loss around a relay, with the inputs that gave it and how far its work has come."""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import Q

from relays.models.relays import Relay


class CoverageRun(models.Model):
    """The loss from one relay to every place around it, for one set of inputs.

    A row is made once for identical inputs, however often and by whomever it is asked for. Its raster is
    named in the row only when the file is whole. Fresh only while `inputs_digest` is that of today's inputs.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting for a worker"
        RUNNING = "running", "being worked out"
        DONE = "done", "done"
        FAILED = "failed", "failed"
        CANCELLED = "cancelled", "cancelled"

    relay = models.ForeignKey(Relay, on_delete=models.CASCADE, related_name="coverage_runs")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    inputs = models.JSONField(help_text="Everything the raster depends on.")
    inputs_digest = models.CharField(max_length=64)
    edition = models.CharField(max_length=80, help_text="Of the calculation.")
    terrain_version = models.CharField(max_length=64)
    frequency_mhz = models.FloatField(help_text="MHz: the middle of the relay's pair.")
    antenna_height_m = models.FloatField(help_text="Metres above the ground.")
    receiver_heights_m = models.JSONField(help_text="Metres above the ground, one band of the raster each.")
    radius_km = models.FloatField()
    spacing_m = models.FloatField(null=True, help_text="Between samples along a radial.")
    radials_done = models.PositiveIntegerField(default=0)
    radials_total = models.PositiveIntegerField(default=0)
    error = models.CharField(max_length=300, blank=True, help_text="Why there is no raster, in a sentence.")
    attempts = models.PositiveSmallIntegerField(default=0)
    retry_at = models.DateTimeField(null=True, help_text="When a failure that may pass is tried again.")
    cancel_asked = models.BooleanField(default=False)
    lease = models.CharField(max_length=32, blank=True, help_text="Which worker has it.")
    lease_until = models.DateTimeField(null=True, help_text="When the worker counts as lost.")
    asked_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True)
    finished_at = models.DateTimeField(null=True)
    raster = models.FileField(upload_to="coverage/", blank=True)
    raster_bytes = models.PositiveBigIntegerField(default=0)
    ends_early = models.BooleanField(default=False, help_text="The known ground ends inside the radius.")

    class Meta:
        ordering = ["relay", "-asked_at"]
        constraints = [
            models.UniqueConstraint(fields=["relay", "inputs_digest"], name="coverage_run_once_an_input"),
            models.CheckConstraint(
                condition=Q(state="done", finished_at__isnull=False) & ~Q(raster="")
                | ~Q(state="done") & Q(raster=""),
                name="coverage_raster_only_when_done",
            ),
            models.CheckConstraint(
                condition=~Q(state="running") | Q(lease_until__isnull=False) & ~Q(lease=""),
                name="coverage_running_has_a_lease",
            ),
        ]

    def __str__(self) -> str:
        return f"Coverage of relay {self.relay_id}: {self.get_state_display()}"

    @property
    def share_done(self) -> float:
        """Radials done of all, 0 to 1."""
        return self.radials_done / self.radials_total if self.radials_total else 0.0

    @property
    def took(self) -> dt.timedelta | None:
        """From the last start to the end."""
        if self.started_at is None or self.finished_at is None:
            return None
        return self.finished_at - self.started_at
