"""The nearest place from which the same radio works, read off the raster and checked by its own path."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from pyproj import Geod

from clubops.members.locators import to_locator
from clubops.members.models import Station
from relays import paths
from relays.coverage import live
from relays.coverage.rasters import LossRaster
from relays.models import Relay
from relays.paths import ComputedPath
from relays.propagation.errors import PropagationError
from relays.propagation.terrain import compass_point
from relays.propagation.verdicts import VERDICT_CLASSES
from relays.reach.radios import Changes, changed
from relays.reach.thresholds import reach

_WGS84 = Geod(ellps="WGS84")

#: As far as people go on foot with a radio; common practice, no source.
ON_FOOT_KM = 2.0
BY_CAR_KM = 15.0
# An antenna higher than this is fixed to something.
_PORTABLE_M = 3.0
# The raster may be out by a decibel or two; so many of the nearest places are checked by their own paths.
_CHECKED = 8
_USABLE = [index for index, row in enumerate(VERDICT_CLASSES) if row.usable]
_SOLID = [0]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place where the path is usable, outdoors and with the antenna at its height."""

    distance_km: float
    bearing_deg: float
    path: ComputedPath

    @property
    def words(self) -> str:
        far = f"{1000 * self.distance_km:.0f} m" if self.distance_km < 1 else f"{self.distance_km:.1f} km"
        how = "on foot" if self.distance_km <= ON_FOOT_KM else "by car"
        return f"The same radio outdoors, {far} {compass_point(self.bearing_deg)} of here ({how})"

    @property
    def note(self) -> str:
        """How to find it: the bearing from here, the coordinates, and a locator whose square is some 600 m wide."""
        latitude_deg, longitude_deg = self.path.profile.latitude_deg[0], self.path.profile.longitude_deg[0]
        return (
            f"bearing {self.bearing_deg:.0f}°, at {latitude_deg:.4f}, {longitude_deg:.4f}, locator "
            f"{to_locator(latitude_deg, longitude_deg, 8)}"
        )


def nearest(
    station: Station, relay: Relay, *, within_km: float = BY_CAR_KM, solid: bool = False
) -> Spot | None:
    """The nearest usable (or solid) place within a distance; None if there is none, nothing is known, or the
    station is not one to walk away with.

    Raises PropagationError when the relay has no raster (no ground under it).
    """
    if station.antenna_height_m > _PORTABLE_M:
        return None
    outdoors = changed(station, Changes(place=Station.Building.OUTDOORS))
    raster = live.loss(live.question(relay, receiver_height_m=outdoors.antenna_height_m))
    usable = np.isin(reach(outdoors, relay).classes(raster.loss_db), _SOLID if solid else _USABLE)
    for distance_km, latitude_deg, longitude_deg in _nearest_places(raster, usable, station, within_km):
        there = changed(outdoors, Changes())
        there.latitude_deg, there.longitude_deg = latitude_deg, longitude_deg
        try:
            path = paths.compute(there, relay)
        except PropagationError:
            continue
        verdict = path.link.verdict()
        if verdict.verdict_class == VERDICT_CLASSES[0] if solid else verdict.usable:
            bearing_deg = _WGS84.inv(
                station.longitude_deg, station.latitude_deg, longitude_deg, latitude_deg
            )[0]
            return Spot(distance_km, bearing_deg % 360.0, path)
    return None


def _nearest_places(
    raster: LossRaster, usable: npt.NDArray[np.bool_], station: Station, within_km: float
) -> list[tuple[float, float, float]]:
    """(km, latitude, longitude) of the nearest usable posts, nearest first."""
    lattice = raster.lattice
    up, aside = _box(within_km, station.latitude_deg)
    row, column = _position(raster, station)
    rows = _around(row, up / lattice.latitude_step_deg, lattice.rows)
    columns = _around(column, aside / lattice.longitude_step_deg, lattice.columns)
    found = np.argwhere(usable[rows, columns]) + np.array([rows.start, columns.start])
    if not found.size:
        return []
    latitude = lattice.north_deg - found[:, 0] * lattice.latitude_step_deg
    longitude = lattice.west_deg + found[:, 1] * lattice.longitude_step_deg
    start = np.full(latitude.size, station.longitude_deg), np.full(latitude.size, station.latitude_deg)
    distance_km = np.asarray(_WGS84.inv(*start, longitude, latitude)[2]) / 1000.0
    order = np.argsort(distance_km, kind="stable")[:_CHECKED]
    return [
        (float(distance_km[at]), float(latitude[at]), float((longitude[at] + 180.0) % 360.0 - 180.0))
        for at in order
        if distance_km[at] <= within_km
    ]


def _position(raster: LossRaster, station: Station) -> tuple[float, float]:
    """Fractional row and column, also beyond the lattice."""
    lattice = raster.lattice
    middle_deg = 0.5 * (lattice.west_deg + lattice.east_deg)
    longitude = middle_deg + (station.longitude_deg - middle_deg + 180.0) % 360.0 - 180.0
    return (
        (lattice.north_deg - station.latitude_deg) / lattice.latitude_step_deg,
        (longitude - lattice.west_deg) / lattice.longitude_step_deg,
    )


def _box(within_km: float, latitude_deg: float) -> tuple[float, float]:
    up = within_km / 110.0
    return up, up / max(0.05, math.cos(math.radians(latitude_deg)))


def _around(centre: float, reach_posts: float, count: int) -> slice:
    first = min(count, max(0, math.floor(centre - reach_posts)))
    return slice(first, max(first, min(count, math.ceil(centre + reach_posts) + 1)))
