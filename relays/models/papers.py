"""Papers that run out: leases, coordination, licences, insurance."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

from clubops.members.models import Member
from relays.models.relays import Relay
from relays.models.sites import Site
from relays.models.upkeep import validate_leads


class Renewal(models.Model):
    """A paper that runs out. Dates kept on a site or a relay themselves are read from there, not from here."""

    class Kind(models.TextChoices):
        LEASE = "lease", "site lease"
        COORDINATION = "coordination", "frequency coordination"
        LICENCE = "licence", "licence"
        INSURANCE = "insurance", "insurance"
        INSPECTION = "inspection", "inspection certificate"
        OTHER = "other", "other paper"

    kind = models.CharField(max_length=12, choices=Kind)
    name = models.CharField(max_length=80, help_text="Such as Liability insurance.")
    site = models.ForeignKey(Site, null=True, blank=True, on_delete=models.CASCADE, related_name="renewals")
    relay = models.ForeignKey(Relay, null=True, blank=True, on_delete=models.CASCADE, related_name="renewals")
    expires_on = models.DateField(help_text="The last day it holds.")
    lead_days = models.CharField(
        "reminders",
        max_length=40,
        default="120, 90, 30",
        validators=[validate_leads],
        help_text="Days before at which somebody is reminded, such as 120, 90, 30.",
    )
    responsible = models.ForeignKey(
        Member, null=True, blank=True, on_delete=models.SET_NULL, related_name="renewals"
    )
    notes = models.TextField(blank=True, help_text="Where the paper is, whom to write to.")
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["expires_on", "name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(site__isnull=True) | Q(relay__isnull=True), name="renewal_site_or_relay_not_both"
            )
        ]

    def __str__(self) -> str:
        return f"{self.name}, until {self.expires_on}"

    def clean(self) -> None:
        if self.site_id and self.relay_id:
            raise ValidationError(
                {"relay": "Name the site or the relay, not both; neither for a paper of the whole club."}
            )
