"""What is said about one imported file."""

from __future__ import annotations

from dataclasses import dataclass

from relays.models import TerrainTile

# Metres in an arc second of latitude, for telling the spacing in words; right within half a per cent
# anywhere.
_SECOND_M = 30.89


@dataclass(frozen=True)
class ImportReport:
    """One file's import. posts_given: how many posts the file held, against which voids are counted."""

    tile: TerrainTile
    already_there: bool = False
    reprojected: bool = False
    thinned: bool = False
    posts_given: int = 0

    @property
    def lines(self) -> list[str]:
        """The report in plain sentences, the first naming the file."""
        tile = self.tile
        if self.already_there:
            return [
                f"{tile.name} is already there, imported on {tile.imported_at:%Y-%m-%d}; nothing was changed."
            ]
        seconds = (tile.north_deg - tile.south_deg) / tile.rows * 3600.0
        posts = (
            f"{tile.name}: {tile.get_kind_display()}, {tile.rows:,} × {tile.columns:,} posts, one every "
            f"{seconds:.3g} arc {'second' if f'{seconds:.3g}' == '1' else 'seconds'} "
            f"({seconds * _SECOND_M:.0f} m) from north to south."
        )
        extent = (
            f"It covers {_degrees(tile.south_deg, 'S', 'N')} to {_degrees(tile.north_deg, 'S', 'N')} and "
            f"{_degrees(tile.west_deg, 'W', 'E')} to {_degrees(tile.east_deg, 'W', 'E')}, "
            f"{tile.lowest_m:,.0f} to {tile.highest_m:,.0f} m."
        )
        return [posts, extent, f"Datum: {tile.datum}. Source: {tile.source}.", *self._mended()]

    def _mended(self) -> list[str]:
        tile, told = self.tile, []
        if tile.voids_filled:
            percent = 100.0 * tile.voids_filled / self.posts_given
            told.append(
                f"{tile.voids_filled:,} voids ({percent:.2g} %) were filled from the ground around them."
            )
        if tile.voids_left:
            percent = 100.0 * tile.voids_left / self.posts_given
            told.append(
                f"{tile.voids_left:,} voids ({percent:.2g} %) were left open: no path can cross them."
            )
        if self.reprojected:
            told.append("It was reprojected to latitude and longitude on WGS 84.")
        if self.thinned:
            told.append("It was finer than a path needs and was thinned to a third of an arc second (10 m).")
        return told


def _degrees(value: float, negative: str, positive: str) -> str:
    return f"{abs(value):.4f}° {negative if value < 0 else positive}"
