"""Who holds a key of a site."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from clubops.members.models import Member
from relays.models.sites import Site


class KeyHolder(models.Model):
    """Who has which key of a site, from when until when. Seen by stewards and officers only."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="key_holders")
    member = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="site_keys")
    key = models.CharField(max_length=60, help_text="Which key, such as Gate 2, copy B.")
    given_on = models.DateField()
    returned_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["site", "key", "-given_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "key"], condition=Q(returned_on__isnull=True), name="key_in_one_hand"
            ),
            models.CheckConstraint(
                condition=Q(returned_on__isnull=True) | Q(returned_on__gte=F("given_on")),
                name="key_returned_after_given",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.key}, {self.site.name}: {self.member.call_sign}"
