"""A raster of loss: as numbers, as a Cloud-Optimized GeoTIFF, and back.

The file holds hundredths of a decibel as scaled 16-bit integers (scale 0.01, unit dB, -32768 for "not
known"), one band a receiver height, and then as many bands of the angle at which each receiver looks up to its horizon
(hundredths of a degree). A hundredth is far below what is known of any path; 32-bit floats of the same ground
take nearly twice the room.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import rasterio
from affine import Affine
from rasterio.errors import RasterioError
from rasterio.io import MemoryFile

from relays.propagation.errors import PropagationError
from relays.propagation.raster import Coverage
from relays.propagation.terrain import Lattice, compass_point

SingleArray = npt.NDArray[np.float32]

STEP_DB = 0.01
NOT_KNOWN = -32768


class RasterLost(PropagationError):
    """A stored raster that cannot be read any more."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(
            "raster",
            name,
            "a stored raster as it was written",
            "The stored coverage of this relay cannot be read any more; a steward can have it worked out again.",
        )

    def __reduce__(self) -> tuple[type[RasterLost], tuple[str]]:
        return type(self), (self.name,)


@dataclass(frozen=True, slots=True)
class LossRaster:
    """Median loss from one relay to a receiver at one height, both above ground.

    loss_db: float32, shape of the lattice, row 0 north, NaN beyond the radius or where the ground on the way
    is not known. radius_km: how far it was looked. ends_early: the known ground ends inside that.
    first_end_km, first_end_deg: where it ends nearest to the relay, and in which direction from there.
    spacing_m: between samples along a radial. elevation_deg: of the receiver's horizon on the way to the relay,
    of the same shape; None where it was not asked for.
    """

    lattice: Lattice
    loss_db: SingleArray = field(repr=False)
    antenna_height_m: float
    receiver_height_m: float
    frequency_mhz: float
    radius_km: float
    spacing_m: float
    ends_early: bool
    first_end_km: float | None = None
    first_end_deg: float | None = None
    elevation_deg: SingleArray | None = field(default=None, repr=False)

    @property
    def end_sentence(self) -> str:
        """Where the known ground ends, for people; empty if it reaches as far as was looked."""
        if self.first_end_km is None or self.first_end_deg is None:
            return ""
        return (
            f"The imported ground ends {self.first_end_km:.1f} km {compass_point(self.first_end_deg)} of the relay "
            f"at the nearest, inside the {self.radius_km:g} km that were asked for. Nothing is said of places beyond."
        )


def from_coverage(
    inputs: dict[str, Any], coverage: Coverage, band: int = 0, elevation_deg: SingleArray | None = None
) -> LossRaster:
    """One receiver height of a computed coverage."""
    return LossRaster(
        lattice=coverage.lattice,
        loss_db=coverage.loss_db[band],
        antenna_height_m=inputs["antenna_height_m"],
        receiver_height_m=inputs["receiver_heights_m"][band],
        frequency_mhz=inputs["frequency_mhz"],
        radius_km=inputs["radius_km"],
        spacing_m=1000.0 * coverage.resolution.spacing_km,
        elevation_deg=elevation_deg,
        **_end_of_ground(coverage),
    )


def _end_of_ground(coverage: Coverage) -> dict[str, Any]:
    if not coverage.ends_early:
        return {"ends_early": False}
    nearest = int(np.argmin(coverage.reach_km))
    return {
        "ends_early": True,
        "first_end_km": float(coverage.reach_km[nearest]),
        "first_end_deg": 360.0 * nearest / coverage.reach_km.size,
    }


def as_file(
    inputs: dict[str, Any], coverage: Coverage, elevation_deg: Sequence[SingleArray], **tags: str
) -> bytes:
    """All heights of a coverage as the bytes of one file.

    Made in memory, because the raster library answers a full disk with whatever failed first; writing bytes
    to a disk fails with the system's own reason.
    """
    with MemoryFile() as memory:
        _fill(memory, inputs, coverage, elevation_deg, tags)
        return bytes(memory.read())


def _fill(
    memory: MemoryFile,
    inputs: dict[str, Any],
    coverage: Coverage,
    elevation_deg: Sequence[SingleArray],
    tags: dict[str, str],
) -> None:
    lattice, count = coverage.lattice, len(elevation_deg)
    with memory.open(**_profile(lattice, 2 * count)) as file:
        for at, height_m in enumerate(inputs["receiver_heights_m"]):
            file.write(_packed(coverage.loss_db[at]), at + 1)
            file.write(_packed(elevation_deg[at]), count + at + 1)
            file.set_band_description(at + 1, f"median loss to a receiver at {height_m:g} m, dB")
            file.set_band_description(count + at + 1, f"elevation of the horizon at {height_m:g} m, degrees")
            file.update_tags(at + 1, RECEIVER_HEIGHT_M=f"{height_m:g}")
        file.scales, file.offsets = [STEP_DB] * (2 * count), [0.0] * (2 * count)
        file.units = ["dB"] * count + ["degree"] * count
        ends = {key.upper(): str(value) for key, value in _end_of_ground(coverage).items()}
        file.update_tags(
            AREA_OR_POINT="Point",
            POSTS=_corner(lattice),
            QUANTITY="basic transmission loss, median of time and places, dB",
            METHOD=inputs["edition"],
            TERRAIN_VERSION=inputs["terrain"],
            FREQUENCY_MHZ=f"{inputs['frequency_mhz']:g}",
            ANTENNA_HEIGHT_M=f"{inputs['antenna_height_m']:g}",
            RADIUS_KM=f"{inputs['radius_km']:g}",
            SPACING_M=f"{1000.0 * coverage.resolution.spacing_km:.3f}",
            **ends,
            **tags,
        )


def _profile(lattice: Lattice, bands: int) -> dict[str, Any]:
    return {
        "driver": "COG",
        "dtype": "int16",
        "count": bands,
        "height": lattice.rows,
        "width": lattice.columns,
        "crs": "EPSG:4326",
        "transform": transform(lattice),
        "nodata": NOT_KNOWN,
        "compress": "DEFLATE",
        "predictor": "STANDARD",
        "blocksize": 256,
        # An overview shows only values that were computed.
        "overview_resampling": "NEAREST",
    }


def transform(lattice: Lattice) -> Affine:
    """From pixel corners to longitude and latitude; a post is the centre of its pixel."""
    step_x, step_y = lattice.longitude_step_deg, lattice.latitude_step_deg
    return Affine(step_x, 0.0, lattice.west_deg - step_x / 2, 0.0, -step_y, lattice.north_deg + step_y / 2)


def _corner(lattice: Lattice) -> str:
    """The corner and steps to the last bit, which a GeoTIFF's own georeference does not keep."""
    corner = (lattice.north_deg, lattice.west_deg, lattice.latitude_step_deg, lattice.longitude_step_deg)
    return " ".join(repr(float(each)) for each in corner)


def _packed(values: SingleArray) -> npt.NDArray[np.int16]:
    scaled = np.rint(values / np.float32(STEP_DB))
    return np.where(np.isnan(scaled), NOT_KNOWN, np.clip(scaled, -32767, 32767)).astype(np.int16)


def read(path: Path, receiver_height_m: float, *, wants_elevation: bool = False) -> LossRaster:
    """One height of a file that `as_file` made. Raises RasterLost if it is gone, broken or lacks that height."""
    try:
        with rasterio.open(path, driver="GTiff") as file:
            count = file.count // 2
            heights = [float(file.tags(band)["RECEIVER_HEIGHT_M"]) for band in range(1, count + 1)]
            band = heights.index(receiver_height_m) + 1
            values, tags = _unpacked(file.read(band)), file.tags()
            angles = _unpacked(file.read(count + band)) if wants_elevation else None
            north, west, down, across = (float(each) for each in tags["POSTS"].split())
            lattice = Lattice(north, west, down, across, file.height, file.width)
        return LossRaster(
            lattice=lattice,
            loss_db=values,
            elevation_deg=angles,
            receiver_height_m=receiver_height_m,
            ends_early=tags["ENDS_EARLY"] == "True",
            **{name: float(tags[name.upper()]) for name in _FIGURES},
            **{name: float(tags[name.upper()]) for name in _ENDS if name.upper() in tags},
        )
    except (RasterioError, OSError, KeyError, ValueError) as problem:
        raise RasterLost(path.name) from problem


def _unpacked(values: npt.NDArray[np.int16]) -> SingleArray:
    found = values.astype(np.float32) * np.float32(STEP_DB)
    found[values == NOT_KNOWN] = np.nan
    return found


_FIGURES = ("antenna_height_m", "frequency_mhz", "radius_km", "spacing_m")
_ENDS = ("first_end_km", "first_end_deg")
