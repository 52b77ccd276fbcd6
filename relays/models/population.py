"""Where people live, as far as the club has imported it."""

from __future__ import annotations

from django.db import models


class PopulationRaster(models.Model):
    """One imported raster, rewritten on import as people per cell on WGS 84 in the private file store."""

    class GivenAs(models.TextChoices):
        COUNT = "count", "people in each cell"
        DENSITY = "density", "people per km²"

    name = models.CharField(max_length=200)
    file = models.FileField(upload_to="population/")
    sha256 = models.CharField(max_length=64, unique=True, help_text="Of the file as given.")
    given_as = models.CharField(max_length=8, choices=GivenAs)
    source = models.CharField(
        max_length=200, help_text="Who made it, for which year, and where it came from."
    )
    west_deg = models.FloatField()
    south_deg = models.FloatField()
    east_deg = models.FloatField()
    north_deg = models.FloatField()
    rows = models.PositiveIntegerField()
    columns = models.PositiveIntegerField()
    people = models.FloatField(help_text="In the whole raster.")
    densest_per_km2 = models.FloatField(help_text="People per km² in its fullest cell.")
    cells_without = models.PositiveIntegerField(
        default=0, help_text="Cells of the given file without a figure: nobody is counted there."
    )
    imported_at = models.DateTimeField()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
