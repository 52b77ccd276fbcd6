"""People for the demo: invented villages on the demo's ground, as a raster that is computed and imported as any is.

Nothing here is a census of anything. The villages lie in the valleys of the ground, where villages lie, and each
thins out from its middle; between them live a few on every square kilometre.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from affine import Affine

from relays.population.apportion import cell_km2
from relays.population.report import PopulationReport
from relays.population.store import import_population
from relays.propagation.terrain import Lattice

FILE_NAME = "demo-people.tif"
SOURCE = "invented for the demo: nobody lives here"

# A little more than the demo's ground, in cells of 15 arc seconds, 460 m from north to south: five of its posts.
_LATTICE = Lattice(36.735, -84.415, 1 / 240, 1 / 240, 71, 83)
_BETWEEN_PER_KM2 = 2.0
_KM_PER_DEGREE = 111.2


@dataclass(frozen=True)
class Village:
    """Invented. across_km: from its middle to where the density has fallen to a third."""

    latitude_deg: float
    longitude_deg: float
    people: float
    across_km: float


VILLAGES = (
    Village(36.603, -84.128, 6200, 1.1),
    Village(36.655, -84.108, 1900, 0.8),
    Village(36.651, -84.152, 1300, 0.6),
    Village(36.556, -84.104, 2100, 0.9),
    Village(36.516, -84.160, 2700, 0.8),
    Village(36.469, -84.102, 4100, 1.0),
    Village(36.688, -84.093, 800, 0.5),
    Village(36.646, -84.286, 400, 0.5),
    Village(36.650, -84.362, 700, 0.5),
    Village(36.704, -84.378, 1100, 0.7),
    Village(36.521, -84.342, 900, 0.6),
)


def counts() -> npt.NDArray[np.float64]:
    """People in every cell."""
    row_km = (_LATTICE.latitude_deg)[:, np.newaxis] * _KM_PER_DEGREE
    km_per_degree_east = _KM_PER_DEGREE * np.cos(np.radians(36.6))
    found = np.repeat(_BETWEEN_PER_KM2 * cell_km2(_LATTICE)[:, np.newaxis], _LATTICE.columns, axis=1)
    for village in VILLAGES:
        north_km = row_km - village.latitude_deg * _KM_PER_DEGREE
        east_km = (_LATTICE.longitude_deg - village.longitude_deg) * km_per_degree_east
        share = np.exp(-(north_km**2 + east_km**2) / village.across_km**2)
        found += village.people * share / share.sum()
    return found


def write(path: Path) -> None:
    """Write the counts as a GeoTIFF that says what its numbers are."""
    step = _LATTICE.latitude_step_deg
    corner = Affine(step, 0.0, _LATTICE.west_deg - step / 2, 0.0, -step, _LATTICE.north_deg + step / 2)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        dtype="float64",
        count=1,
        width=_LATTICE.columns,
        height=_LATTICE.rows,
        crs="EPSG:4326",
        transform=corner,
    ) as raster:
        raster.write(counts(), 1)
        raster.units = ["people"]


def import_demo_population(*, now: datetime) -> PopulationReport:
    """Import the raster as any file is imported; already there is fine."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / FILE_NAME
        write(path)
        return import_population(path, source=SOURCE, now=now)
