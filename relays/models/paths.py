"""The stored verdict on one path between a station and a relay, with the inputs that gave it."""

from __future__ import annotations

from django.db import models

from clubops.members.models import Station
from relays.models.relays import Relay


class PathVerdict(models.Model):
    """What was computed for (station, relay). Fresh only while `inputs_digest` is that of today's inputs."""

    class State(models.TextChoices):
        COMPUTED = "computed", "computed"
        NO_ANSWER = "no_answer", "no answer"

    station = models.ForeignKey(Station, on_delete=models.CASCADE, related_name="path_verdicts")
    relay = models.ForeignKey(Relay, on_delete=models.CASCADE, related_name="path_verdicts")
    state = models.CharField(max_length=10, choices=State)
    reason = models.CharField(max_length=300, blank=True, help_text="Why there is no answer, in a sentence.")
    inputs_digest = models.CharField(max_length=64)
    inputs = models.JSONField()
    distance_km = models.FloatField(null=True)
    loss_db = models.FloatField(null=True)
    talk_in_margin_db = models.FloatField(null=True)
    talk_in_probability = models.FloatField(null=True)
    talk_out_margin_db = models.FloatField(null=True)
    talk_out_probability = models.FloatField(null=True)
    computed_at = models.DateTimeField()

    class Meta:
        ordering = ["station", "relay"]
        constraints = [models.UniqueConstraint(fields=["station", "relay"], name="path_verdict_once_a_pair")]

    def __str__(self) -> str:
        return f"{self.station_id} to {self.relay_id}: {self.state}"

    @property
    def margin_db(self) -> float | None:
        """The worse of the two directions: the one that decides."""
        if self.talk_in_margin_db is None or self.talk_out_margin_db is None:
            return None
        return min(self.talk_in_margin_db, self.talk_out_margin_db)

    @property
    def probability(self) -> float | None:
        """The lower of the two probabilities of a usable signal."""
        if self.talk_in_probability is None or self.talk_out_probability is None:
            return None
        return min(self.talk_in_probability, self.talk_out_probability)
