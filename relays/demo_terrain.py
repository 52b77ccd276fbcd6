"""Real ground for the demo and the tests: the elevation grid that ships inside matplotlib.

`jacksboro_fault_dem.npz` holds 344 x 403 whole metres at 3 arc seconds, about 31 km by 30 km in Tennessee
and Kentucky. matplotlib's gallery shades it as a USGS elevation model. The file itself states neither maker
nor datum, so none is claimed: its longitudes and latitudes are taken as WGS 84 (against NAD 83, the usual
datum of such data, a metre or two), its heights as being above sea level.

Its bounds are the outer edges of its pixels: xmax - xmin is 403 whole steps, and both lie half a step
beside the multiples of 3 arc seconds on which such grids have their posts. `ymin` is the northern bound,
and row 0 is north.
"""

from __future__ import annotations

import tempfile
from datetime import datetime
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from matplotlib import cbook

from relays import terrain_store
from relays.models import TerrainTile
from relays.terrain_report import ImportReport

FILE_NAME = "demo-ground.tif"
SOURCE = (
    "3-arc-second elevation grid shipped inside matplotlib (jacksboro_fault_dem.npz), "
    "there taken to be a USGS model; the file states no source"
)
DATUM = "WGS 84 taken for granted, the file states none; vertical datum unknown"


def write(path: Path) -> None:
    """Write the grid as a GeoTIFF, the same bytes every time for one version of the raster library."""
    with np.load(cbook.get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)) as dem:
        heights_m = np.asarray(dem["elevation"], dtype=np.int16)
        west, north = float(dem["xmin"]), float(dem["ymin"])
        step_x, step_y = float(dem["dx"]), float(dem["dy"])
    rows, columns = heights_m.shape
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        dtype="int16",
        count=1,
        width=columns,
        height=rows,
        crs="EPSG:4326",
        transform=Affine(step_x, 0.0, west, 0.0, -step_y, north),
    ) as raster:
        raster.write(heights_m, 1)


def import_demo_terrain(*, now: datetime) -> ImportReport:
    """Import the grid as any file is imported; already there is fine."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / FILE_NAME
        write(path)
        return terrain_store.import_tile(
            path, kind=TerrainTile.Kind.GROUND, source=SOURCE, datum=DATUM, now=now
        )
