"""The sweep of one relay over the ground as imported now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from pyproj import Geod

from relays import terrain_store
from relays.coverage.inputs import request_from
from relays.coverage.kept import Kept
from relays.propagation import raster
from relays.propagation.errors import PropagationError
from relays.propagation.raster import Coverage, SingleArray
from relays.propagation.raster_request import RADIUS_KM, CoverageRequest
from relays.propagation.terrain import ElevationGrid, Lattice

_WGS84 = Geod(ellps="WGS84")


class TerrainMoved(PropagationError):
    """The ground was changed between asking and computing, so that what was asked for no longer exists."""

    def __init__(self) -> None:
        super().__init__(
            "terrain",
            None,
            "the ground that was imported when this was asked for",
            "The imported ground was changed before this could be worked out; it is worked out for the new one.",
        )

    def __reduce__(self) -> tuple[type[TerrainMoved], tuple[()]]:
        return type(self), ()


@dataclass(frozen=True, slots=True)
class Prepared:
    """A request with the ground under it; its radius ends where the ground does."""

    request: CoverageRequest
    grid: ElevationGrid = field(repr=False)
    clutter_m: SingleArray = field(repr=False)


def prepare(inputs: dict[str, Any], *, most_posts: int, wants_horizons: bool = False) -> Prepared:
    """The ground for inputs that `inputs_of` made, kept in memory for the next time.

    Where the circle holds more than `most_posts`, only every second, third, ... post is answered. Raises
    PropagationError: no ground under the relay, a radius out of range, TerrainMoved.
    """
    key = tuple(
        inputs[name] for name in ("terrain", "latitude_deg", "longitude_deg", "radius_km", "clutter_m")
    )
    request = replace(request_from(inputs), wants_horizons=wants_horizons)
    grid, clutter_m = _ground.get((*key, most_posts), lambda: _read(inputs["terrain"], request, most_posts))
    reached = farthest_post_km(grid.lattice, request.latitude_deg, request.longitude_deg)
    if reached < request.radius_km:
        # Radials that end at the edge of the ground cost nothing, but a smaller circle needs fewer of them.
        request = replace(request, radius_km=max(reached, RADIUS_KM[0]))
    return Prepared(request, grid, clutter_m)


def _read(version: str, request: CoverageRequest, most_posts: int) -> tuple[ElevationGrid, SingleArray]:
    ground = terrain_store.current_ground()
    if ground.version != version:
        raise TerrainMoved
    grid = ground.grid_around(
        request.latitude_deg, request.longitude_deg, request.radius_km, most_posts=most_posts
    )
    return grid, ground.clutter_over(grid)


def sweep(
    prepared: Prepared,
    *,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    threads: int | None = None,
) -> Coverage:
    """Loss at every post around a relay. Raises PropagationError and CoverageCancelled."""
    return raster.cover(
        prepared.grid,
        prepared.request,
        clutter_m=prepared.clutter_m,
        progress=progress,
        cancelled=cancelled,
        threads=threads,
    )


def farthest_post_km(lattice: Lattice, latitude_deg: float, longitude_deg: float) -> float:
    """From a place to the farthest corner of a lattice, km, rounded up to a whole one."""
    corners = [
        (latitude, longitude)
        for latitude in (lattice.north_deg, lattice.south_deg)
        for longitude in (lattice.west_deg, lattice.east_deg)
    ]
    far_m = max(_WGS84.inv(longitude_deg, latitude_deg, lon, lat)[2] for lat, lon in corners)
    return float(int(far_m / 1000.0) + 1)


def _bytes(kept: tuple[ElevationGrid, SingleArray]) -> int:
    return kept[0].heights_m.nbytes + kept[1].nbytes


_ground: Kept[tuple[ElevationGrid, SingleArray]] = Kept(100_000_000, _bytes)
