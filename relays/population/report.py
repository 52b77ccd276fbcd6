"""What is said about one imported file of people."""

from __future__ import annotations

from dataclasses import dataclass

from relays.models import PopulationRaster
from relays.population.words import about

# Fewer in the fullest cell of a whole raster is a wilderness, or counts that were taken for a density.
_HARDLY_ANYBODY_PER_KM2 = 1.0


@dataclass(frozen=True)
class PopulationReport:
    """One file's import."""

    raster: PopulationRaster
    already_there: bool = False
    read_anew: bool = False
    moved: bool = False
    cells_given: int = 0

    @property
    def lines(self) -> list[str]:
        """The report in plain sentences, the first naming the file."""
        its = self.raster
        if self.already_there:
            then = f"{its.imported_at:%Y-%m-%d}"
            was = its.get_given_as_display()
            return [f"{its.name} is already there, imported on {then} as {was}; nothing was changed."]
        cells, fullest = f"{its.rows:,} × {its.columns:,} cells", f"{its.densest_per_km2:,.0f} per km²"
        told = [
            f"{its.name}: {about(its.people)} in {cells}, in the fullest cell {fullest}.",
            f"It was read as {its.get_given_as_display()}. Source: {its.source}.",
        ]
        if its.densest_per_km2 < _HARDLY_ANYBODY_PER_KM2:
            told.append(
                "That is hardly anybody: if its numbers are people in each cell, import it again with --as count."
            )
        if its.cells_without:
            percent = 100.0 * its.cells_without / self.cells_given
            told.append(
                f"{its.cells_without:,} cells ({percent:.2g} %) have no figure; nobody is counted there."
            )
        if self.moved:
            told.append("It was put on latitude and longitude; the people in all are the same.")
        if self.read_anew:
            told.append("It was there already and has been read anew.")
        return told
