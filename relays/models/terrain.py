"""What ground the club has imported."""

from __future__ import annotations

from django.db import models


class TerrainTile(models.Model):
    """One imported raster, rewritten on import as a WGS 84 GeoTIFF in the private file store."""

    class Kind(models.TextChoices):
        GROUND = "ground", "ground height"
        COVER = "cover", "height of trees and buildings"

    kind = models.CharField(max_length=8, choices=Kind, default=Kind.GROUND)
    name = models.CharField(max_length=200)
    file = models.FileField(upload_to="terrain/")
    sha256 = models.CharField(max_length=64, help_text="Of the file as given, with its class table if any.")
    source = models.CharField(max_length=200, help_text="Who made it and where it came from.")
    datum = models.CharField(max_length=120, help_text="Horizontal and vertical reference, as far as known.")
    west_deg = models.FloatField()
    south_deg = models.FloatField()
    east_deg = models.FloatField()
    north_deg = models.FloatField()
    rows = models.PositiveIntegerField()
    columns = models.PositiveIntegerField()
    lowest_m = models.FloatField()
    highest_m = models.FloatField()
    voids_filled = models.PositiveIntegerField(
        default=0, help_text="Posts without a height in the given file, interpolated from their neighbours."
    )
    voids_left = models.PositiveIntegerField(
        default=0, help_text="Posts without a height in holes too large to fill: no path can cross them."
    )
    imported_at = models.DateTimeField()

    class Meta:
        ordering = ["kind", "name"]
        constraints = [models.UniqueConstraint(fields=["kind", "sha256"], name="terrain_tile_once")]

    def __str__(self) -> str:
        return self.name
