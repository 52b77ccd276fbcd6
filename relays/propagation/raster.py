"""Coverage of one relay as a raster: the loss at every pixel around it.

The circle is divided into radials. Every pixel lies between two of them, and on each stands a receiver at
the pixel's own distance, on the ground that the radial crosses there; `sweep` computes the loss to all
receivers of a radial in one pass, and the two losses of a pixel are blended by its azimuth. Along the way
nothing is interpolated, which matters: losses jump at every crest, and far less across.

Sectors of neighbouring radials are worked one after another, and in several threads at once, so that no
more than a few sectors are ever held beside the elevations and the result. What a sector computes does not
depend on the others: the result is the same to the last bit however many threads there are.

One raster serves both directions. The Recommendation's loss is the same either way over the same path; only
the frequency differs, by the relay's offset. Take the middle of the pair: half of the usual 0.6 MHz at
146 MHz or 5 MHz at 440 MHz moves the loss by a few hundredths of a dB on average (docs/propagation.md),
far below what the terrain data leave open.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from dataclasses import dataclass, field
from multiprocessing import cpu_count
from typing import Any

import numpy as np
import numpy.typing as npt

from relays.propagation import geodesics, polar, sweep
from relays.propagation.errors import PropagationError
from relays.propagation.p1812.inputs import INLAND
from relays.propagation.raster_request import (
    KM_PER_DEGREE,
    CoverageRequest,
    RadiusRangeError,
    Resolution,
    ResolutionRangeError,
    check_place,
    resolution,
)
from relays.propagation.terrain import ElevationGrid, Lattice, LeavesTerrain

__all__ = [
    "Coverage",
    "CoverageCancelled",
    "CoverageRequest",
    "RadiusRangeError",
    "Resolution",
    "ResolutionRangeError",
    "cover",
    "resolution",
    "warm_up",
]

SingleArray = npt.NDArray[np.float32]
FloatArray = npt.NDArray[np.float64]

# Radials worked in one go by one thread: enough that doing the last one twice hardly counts, few enough that the
# ground under them, 8 bytes a sample, stays at a few MB.
_SECTOR = (32, 128)
_SECTOR_SAMPLES = 200_000


class CoverageCancelled(Exception):
    """The caller asked to stop; there is no result."""


@dataclass(frozen=True, slots=True)
class Coverage:
    """The raster and what was done for it.

    lattice: the posts of the elevation grid inside the circle's box; arrays are ``[height, row, column]``,
    float32, row 0 north, NaN beyond the radius or where the ground on the way is not known.

    loss_db: basic transmission loss for the median place, Recommendation ITU-R P.1812-8 (69).
    floor_db: the line-of-sight loss no place may beat. For other percentages of places take
    ``maximum(loss_db + location_loss_db, floor_db)``; where `loss_db` already rests on the floor this can be
    high by what lay below it, a few tenths of a dB beside the location variability.
    horizon_km: (2, heights, rows, columns) distance from the relay, and from the receiver, to the horizon
    each sees on bare ground along the nearer radial; NaN where they see one another.

    reach_km: (radials,) how far each radial ran over known ground, clockwise from north.
    relay_ground_m: ground under the relay.
    seconds: time spent in each stage, summed over threads; empty unless a stopwatch was given.
    """

    lattice: Lattice
    loss_db: SingleArray = field(repr=False)
    floor_db: SingleArray | None = field(repr=False)
    horizon_km: SingleArray | None = field(repr=False)
    reach_km: SingleArray = field(repr=False)
    relay_ground_m: float
    resolution: Resolution
    seconds: dict[str, float]

    @property
    def ends_early(self) -> bool:
        """Whether the known ground ends inside the circle."""
        return bool((self.reach_km < self.resolution.samples * self.resolution.spacing_km * 0.999).any())


@dataclass(frozen=True, slots=True)
class _Job:
    """What the threads share; they only read it, and write separate pixels of the outputs."""

    posts: SingleArray
    clutter_posts: SingleArray
    zone_posts: npt.NDArray[np.uint8]
    origin: FloatArray
    request: CoverageRequest
    resolution: Resolution
    rx_heights: FloatArray
    constants: FloatArray
    tables: FloatArray
    nodes: FloatArray
    matrix: FloatArray
    east: FloatArray
    north: FloatArray
    rows: int
    columns: int
    reach_m: float
    loss: SingleArray
    floor: SingleArray
    horizons: SingleArray
    reach_km: SingleArray
    stopwatch: Callable[[], float]


def cover(
    grid: ElevationGrid,
    request: CoverageRequest,
    *,
    clutter_m: SingleArray | None = None,
    zone: npt.NDArray[np.uint8] | None = None,
    threads: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    stopwatch: Callable[[], float] | None = None,
) -> Coverage:
    """Loss from a relay to every pixel within its radius, by Recommendation ITU-R P.1812-8.

    grid: elevations in m. clutter_m, zone: on the same lattice, clutter above ground in m (NaN for none) and
    zone codes 1, 3, 4; None for bare and inland. threads: None for one a processor.
    progress: called in this thread with radials done and radials in all. cancelled: asked between sectors.
    stopwatch: a clock in seconds, to fill `Coverage.seconds`.

    Raises a PropagationError naming what is out of range, LeavesTerrain if the relay has no ground,
    CoverageCancelled if told to stop.
    """
    job, coverage = _prepare(grid, request, clutter_m, zone, stopwatch)
    workers = threads if threads is not None else cpu_count()
    stop = threading.Event()
    done = 0
    with ThreadPoolExecutor(max_workers=max(1, workers), thread_name_prefix="coverage") as pool:
        sectors = [pool.submit(_work, job, first, count, stop) for first, count in _sectors(job.resolution)]
        try:
            for sector in as_completed(sectors):
                done += _settle(sector, coverage.seconds)
                if progress is not None:
                    progress(done, job.resolution.radial_count)
                if cancelled is not None and done < job.resolution.radial_count and cancelled():
                    raise CoverageCancelled
        except BaseException:
            stop.set()
            pool.shutdown(wait=True, cancel_futures=True)
            raise
    return coverage


def warm_up() -> None:
    """Compile every kernel a raster needs, or load it from the disk cache.

    About 15 s on the first run after an installation, half a second later on.
    """
    sweep.warm_up()
    lattice = Lattice(0.01, 0.0, 0.001, 0.001, 21, 21)
    request = CoverageRequest(
        latitude_deg=0.0,
        longitude_deg=0.01,
        antenna_height_m=10.0,
        receiver_heights_m=(2.0,),
        frequency_mhz=146.0,
        radius_km=1.0,
    )
    cover(ElevationGrid(lattice, np.zeros((21, 21), dtype=np.float32)), request, threads=1)


def _prepare(
    grid: ElevationGrid,
    request: CoverageRequest,
    clutter_m: SingleArray | None,
    zone: npt.NDArray[np.uint8] | None,
    stopwatch: Callable[[], float] | None,
) -> tuple[_Job, Coverage]:
    """Check everything, build the tables, and lay out the result full of NaN."""
    check_place(request)
    latitude = float(request.latitude_deg)
    divided = resolution(grid.lattice, request)
    run = sweep.make_run(
        frequency_ghz=request.frequency_mhz / 1000.0,
        time_percent=request.time_percent,
        spacing_km=divided.spacing_km,
        tx_height_m=request.antenna_height_m,
        polarization=request.polarization,
        latitude_deg=latitude,
        delta_n=request.delta_n,
        n0=request.n0,
    )
    heights = sweep.rx_heights(request.receiver_heights_m)
    relay_ground = float(grid.at(latitude, request.longitude_deg))
    if math.isnan(relay_ground):
        raise LeavesTerrain(
            latitude_deg=latitude,
            longitude_deg=request.longitude_deg,
            distance_km=0.0,
            bearing_deg=0.0,
            from_relay=True,
        )
    window = _window(grid.lattice, request)
    shape = (heights.size, window.rows, window.columns)
    loss = np.full(shape, np.nan, dtype=np.float32)
    floor = np.full(shape if request.wants_floor else (0, 1, 1), np.nan, dtype=np.float32)
    horizons = np.full((2, *shape) if request.wants_horizons else (2, 0, 1, 1), np.nan, dtype=np.float32)
    reach = np.zeros(divided.radial_count, dtype=np.float32)
    nodes, matrix = geodesics.node_matrix()
    blocks = (-(-window.rows // polar.BLOCK) + 1, -(-window.columns // polar.BLOCK) + 1)
    east, north = np.empty(blocks), np.empty(blocks)
    geodesics.place_nodes(_corner(window), polar.BLOCK, latitude, float(request.longitude_deg), east, north)
    job = _Job(
        posts=_shared(grid.heights_m, np.float32),
        clutter_posts=_shared(_layer(grid, clutter_m, "clutter_m", 0), np.float32),
        zone_posts=_shared(_layer(grid, zone, "zone", INLAND), np.uint8),
        origin=_origin(grid.lattice, request),
        request=request,
        resolution=divided,
        rx_heights=heights,
        constants=sweep.pack(run),
        tables=sweep.make_tables(run, divided.samples + 2, latitude),
        nodes=nodes,
        matrix=matrix,
        east=east,
        north=north,
        rows=window.rows,
        columns=window.columns,
        reach_m=1000.0 * request.radius_km,
        loss=_flat(loss),
        floor=_flat(floor),
        horizons=_flat(horizons),
        reach_km=reach,
        stopwatch=stopwatch or _no_stopwatch,
    )
    coverage = Coverage(
        lattice=window,
        loss_db=loss,
        floor_db=floor if request.wants_floor else None,
        horizon_km=horizons if request.wants_horizons else None,
        reach_km=reach,
        relay_ground_m=relay_ground,
        resolution=divided,
        seconds={} if stopwatch is None else dict.fromkeys(("ground", "sweep", "pixels"), 0.0),
    )
    return job, coverage


def _window(grid: Lattice, request: CoverageRequest) -> Lattice:
    """The part of the grid that the circle can reach."""
    km_per_degree = 0.99 * KM_PER_DEGREE  # a little small, so that the box is a little large
    down = request.radius_km / km_per_degree
    highest = min(abs(request.latitude_deg) + down, 89.0)
    aside = request.radius_km / (km_per_degree * math.cos(math.radians(highest)))
    row = (grid.north_deg - request.latitude_deg) / grid.latitude_step_deg
    column = ((request.longitude_deg - grid.west_deg + 1e-9) % 360.0) / grid.longitude_step_deg
    rows, columns = down / grid.latitude_step_deg, aside / grid.longitude_step_deg
    return grid.part(
        slice(max(0, math.floor(row - rows)), math.ceil(row + rows) + 1),
        slice(max(0, math.floor(column - columns)), math.ceil(column + columns) + 1),
    )


def _corner(lattice: Lattice) -> FloatArray:
    return np.array(
        [lattice.north_deg, lattice.west_deg, lattice.latitude_step_deg, lattice.longitude_step_deg]
    )


def _origin(grid: Lattice, request: CoverageRequest) -> FloatArray:
    """Where the relay stands on the grid: row, column, and the steps that turn degrees into both."""
    # Column 0 may lie on the other side of the 180 degree meridian.
    from_west = (request.longitude_deg - grid.west_deg + 1e-9) % 360.0 - 1e-9
    return np.array(
        [
            (grid.north_deg - request.latitude_deg) / grid.latitude_step_deg,
            from_west / grid.longitude_step_deg,
            grid.latitude_step_deg,
            grid.longitude_step_deg,
        ]
    )


def _layer(grid: ElevationGrid, values: npt.NDArray[Any] | None, name: str, nothing: int) -> npt.NDArray[Any]:
    """The layer, or an empty one where it holds nothing that matters: then less has to be kept on the way."""
    if values is not None and values.shape != grid.heights_m.shape:
        raise PropagationError(
            name,
            values.shape,
            f"{grid.heights_m.shape}",
            f"{name} has the shape {values.shape}; the elevations have {grid.heights_m.shape}.",
        )
    # Reductions, because a comparison of all posts would take as much memory again. They pass over NaN.
    if values is None or (np.fmin.reduce(values, axis=None) == nothing == np.fmax.reduce(values, axis=None)):
        return np.empty((0, 0))
    return values


def _shared(values: npt.NDArray[Any], kind: type[np.generic]) -> npt.NDArray[Any]:
    """The array as the kernels were compiled for it: contiguous, of one type, never written."""
    contiguous = np.ascontiguousarray(values, dtype=kind).view()
    contiguous.flags.writeable = False
    return contiguous


def _flat(raster: SingleArray) -> SingleArray:
    """The same memory with rows and columns as one axis."""
    return raster.reshape(*raster.shape[:-2], raster.shape[-2] * raster.shape[-1])


def _sectors(divided: Resolution) -> Iterator[tuple[int, int]]:
    size = min(max(_SECTOR_SAMPLES // divided.samples, _SECTOR[0]), _SECTOR[1])
    for first in range(0, divided.radial_count, size):
        yield first, min(size, divided.radial_count - first)


def _work(job: _Job, first: int, count: int, stop: threading.Event) -> tuple[int, dict[str, float]]:
    """One sector from ground to pixels. The radial after its last is the next sector's first, done twice."""
    if stop.is_set():
        return 0, {}
    divided = job.resolution
    spacing_m = 1000.0 * divided.spacing_km
    start = job.stopwatch()
    pixel, turn, steps = polar.find_pixels(
        first, count, divided.radial_count, spacing_m, job.reach_m, job.rows, job.columns, job.east, job.north
    )
    offsets = np.empty(count + 2, dtype=np.int64)
    source, at = np.empty(2 * pixel.size, dtype=np.int64), np.empty(2 * pixel.size)
    receivers = polar.order_receivers(turn, steps, count, offsets, source, at)
    found = job.stopwatch()

    ground = np.empty((count + 1, divided.samples + 1))
    clutter = np.empty(ground.shape if job.clutter_posts.size else (0, 0))
    zones = np.empty(ground.shape if job.zone_posts.size else (0, 0), dtype=np.uint8)
    last, cos_azimuth = np.empty(count + 1, dtype=np.int64), np.empty(count + 1)
    polynomials = np.empty((2 * (count + 1), job.nodes.size))
    spots, spot_zones = np.empty((3, receivers)), np.empty((2, receivers), dtype=np.uint8)
    geodesics.radial_polynomials(
        float(job.request.latitude_deg), first, divided.radial_count, spacing_m * divided.samples,
        job.nodes, job.matrix, polynomials, cos_azimuth,
    )  # fmt: skip
    polar.sample_radials(
        job.posts, job.clutter_posts, job.zone_posts, job.origin, polynomials, ground, clutter, zones, last
    )
    polar.place_receivers(
        job.posts, job.clutter_posts, job.zone_posts, job.origin, polynomials, divided.samples, offsets, at, spots,
        spot_zones,
    )  # fmt: skip
    sampled = job.stopwatch()

    loss = np.empty((job.rx_heights.size, receivers))
    floor, horizons = np.empty_like(loss), np.empty((2, *loss.shape))
    sweep.sweep_radials(
        ground, clutter, zones, last, cos_azimuth, offsets, at, spots, spot_zones, job.rx_heights, job.constants,
        job.tables, loss, floor, horizons,
    )  # fmt: skip
    swept = job.stopwatch()

    polar.blend(
        source[:receivers], pixel, turn, steps, divided.spacing_km, loss, floor, horizons, job.loss, job.floor,
        job.horizons,
    )  # fmt: skip
    blended = job.stopwatch()
    job.reach_km[first : first + count] = np.maximum(last[:count], 0) * divided.spacing_km
    spent = {"ground": sampled - found, "sweep": swept - sampled, "pixels": found - start + blended - swept}
    return count, spent


def _settle(sector: Future[tuple[int, dict[str, float]]], seconds: dict[str, float]) -> int:
    count, spent = sector.result()
    for stage in seconds:
        seconds[stage] += spent.get(stage, 0.0)
    return count


def _no_stopwatch() -> float:
    return 0.0
