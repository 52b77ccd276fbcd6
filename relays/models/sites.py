"""A place where relays stand."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from clubops.members.models import Member


class Site(models.Model):
    """A hilltop or building that carries one or more relays."""

    name = models.CharField(max_length=80, unique=True)
    slug = models.SlugField(max_length=80, unique=True)
    latitude_deg = models.FloatField(
        "latitude", validators=[MinValueValidator(-90), MaxValueValidator(90)], help_text="Degrees, north +."
    )
    longitude_deg = models.FloatField(
        "longitude",
        validators=[MinValueValidator(-180), MaxValueValidator(180)],
        help_text="Degrees, east +.",
    )
    description = models.TextField(blank=True, help_text="Shown to everybody.")
    steward = models.ForeignKey(
        Member,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="sites",
        help_text="Who looks after it.",
    )
    access_notes = models.TextField(
        blank=True, help_text="Gate, keys, road. Seen by stewards and officers only."
    )
    hazards = models.TextField(
        blank=True,
        help_text="What can hurt somebody here: tower, power line, RF, batteries, generator, weather.",
    )
    lease_expires_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(latitude_deg__range=(-90, 90), longitude_deg__range=(-180, 180)),
                name="site_on_the_globe",
            )
        ]

    def __str__(self) -> str:
        return self.name
