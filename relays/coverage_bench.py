"""How fast and how exact the coverage raster is on this machine, on the demo ground mirrored to size."""

from __future__ import annotations

import math
import resource
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
from matplotlib import cbook
from pyproj import Geod

from relays import other_model
from relays.propagation import raster, sweep
from relays.propagation.p1812 import predict
from relays.propagation.raster import Coverage
from relays.propagation.raster_request import KM_PER_DEGREE, CoverageRequest
from relays.propagation.terrain import ElevationGrid, Lattice

FloatArray = npt.NDArray[np.float64]

_WGS84 = Geod(ellps="WGS84")
_STEP_DEG = 1.0 / 1200.0
_POST_KM = _STEP_DEG * KM_PER_DEGREE
#: The ground is so much wider than the circle that every radial runs to its end, the relay being off the middle.
_MARGIN = 1.4
_FREQUENCY_GHZ = 0.146
_ANTENNA_M, _RECEIVER_M = 30.0, 2.0


@dataclass(frozen=True, slots=True)
class RasterTiming:
    """One raster, the best of several: wall time, and the time of its stages summed over threads, s."""

    label: str
    coverage: Coverage
    threads: int
    wall_s: float

    @property
    def samples(self) -> int:
        return self.coverage.resolution.radial_count * self.coverage.resolution.samples

    @property
    def pixels(self) -> int:
        return int(np.isfinite(self.coverage.loss_db).sum())

    @property
    def sweep_ns_per_sample(self) -> float:
        return self.coverage.seconds["sweep"] / self.samples * 1e9


@dataclass(frozen=True, slots=True)
class Comparison:
    """Pixels of a raster against `predict` over the ground on the line to each of them alone."""

    pixels: int
    predict_s_per_pixel: float
    median_db: float
    within_95_db: float
    mean_db: float


@dataclass(frozen=True, slots=True)
class OtherModel:
    """The same pixels by the irregular terrain model of another library: another model, so another loss."""

    pixels: int
    s_per_pixel: float
    median_db: float


def mirrored_ground(radius_posts: int) -> ElevationGrid:
    """The demo elevation grid, 3 arc seconds, mirrored at its edges until the circle fits in."""
    posts = math.ceil(2 * radius_posts * _MARGIN)
    with np.load(cbook.get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)) as dem:
        tile = np.asarray(dem["elevation"], dtype=np.float32)
    rows = np.abs((np.arange(posts) + tile.shape[0] - 1) % (2 * tile.shape[0] - 2) - tile.shape[0] + 1)
    columns = np.abs((np.arange(posts) + tile.shape[1] - 1) % (2 * tile.shape[1] - 2) - tile.shape[1] + 1)
    return ElevationGrid(
        Lattice(37.0, -85.0, _STEP_DEG, _STEP_DEG, posts, posts), tile[np.ix_(rows, columns)]
    )


def request_over(ground: ElevationGrid, radius_posts: int) -> CoverageRequest:
    """A handheld relay's map; the relay on the highest post near the middle of the ground."""
    posts = ground.lattice.rows
    near = max(radius_posts // 10, 1)
    middle = slice(posts // 2 - near, posts // 2 + near)
    down, aside = divmod(int(np.argmax(ground.heights_m[middle, middle])), 2 * near)
    return CoverageRequest(
        latitude_deg=float(ground.lattice.latitude_deg[posts // 2 - near + down]),
        longitude_deg=float(ground.lattice.longitude_deg[posts // 2 - near + aside]),
        antenna_height_m=_ANTENNA_M,
        receiver_heights_m=(_RECEIVER_M,),
        frequency_mhz=1000.0 * _FREQUENCY_GHZ,
        radius_km=radius_posts * _POST_KM,
    )


def time_rasters(
    ground: ElevationGrid, radius_posts: int, threads: int, repeat: int
) -> Iterator[RasterTiming]:
    """The same circle at posts as spacing, at twice that, and at the division the pages use."""
    asked = request_over(ground, radius_posts)
    rim = math.ceil(2.0 * math.pi * radius_posts)
    divisions = {
        "a post": replace(asked, spacing_km=_POST_KM, radial_count=rim),
        "half a post": replace(asked, spacing_km=_POST_KM / 2.0, radial_count=2 * rim),
        "the pages' own division": asked,
    }
    raster.warm_up()
    for label, division in divisions.items():
        yield min(
            (_time_one(label, ground, division, threads) for _ in range(repeat)),
            key=lambda timing: timing.wall_s,
        )


def _time_one(label: str, ground: ElevationGrid, asked: CoverageRequest, threads: int) -> RasterTiming:
    start = time.perf_counter()
    coverage = raster.cover(ground, asked, threads=threads, stopwatch=time.thread_time)
    return RasterTiming(label, coverage, threads, time.perf_counter() - start)


def time_radials(ground: ElevationGrid, samples: int, repeat: int) -> float:
    """Processor time a sample, ns, of radials over the rows of the ground whose every sample is a receiver."""
    rows = ground.heights_m[:: max(1, ground.lattice.rows // 40)]
    lines = np.array([np.resize(np.append(row, row[::-1]), samples + 1) for row in rows], dtype=np.float64)
    count = lines.shape[0]
    at = np.arange(samples + 1, dtype=np.float64)
    before = np.maximum(np.arange(samples + 1) - 1, 0)
    shape = (1, count * (samples + 1))
    run = sweep.make_run(
        frequency_ghz=_FREQUENCY_GHZ,
        time_percent=50.0,
        spacing_km=0.09,
        tx_height_m=_ANTENNA_M,
        polarization="vertical",
        latitude_deg=36.0,
        delta_n=45.0,
        n0=325.0,
    )
    arguments = (
        lines,
        np.empty((0, 0)),
        np.empty((0, 0), dtype=np.uint8),
        np.full(count, samples),
        np.ones(count),
        np.arange(count + 1) * (samples + 1),
        np.tile(at, count),
        np.stack((lines.ravel(), lines[:, before].ravel(), np.zeros(shape[1]))),
        np.empty((2, shape[1]), dtype=np.uint8),
        np.array([_RECEIVER_M]),
        sweep.pack(run),
        sweep.make_tables(run, samples + 2, 36.0),
        np.empty(shape),
        np.empty(shape),
        np.empty((2, *shape)),
    )
    best = math.inf
    for _ in range(repeat):
        start = time.thread_time()
        sweep.sweep_radials(*arguments)
        best = min(best, time.thread_time() - start)
    return best / count / samples * 1e9


def compare_with_predict(
    ground: ElevationGrid, radius_posts: int, coverage: Coverage, pixels: int
) -> Comparison:
    """Random pixels farther than 0.25 km, each by its own geodesic at the spacing of the raster."""
    asked = request_over(ground, radius_posts)
    rng = np.random.default_rng(1)
    known = np.argwhere(np.isfinite(coverage.loss_db[0]))
    off, spent = [], 0.0
    for row, column in rng.permutation(known)[:pixels]:
        latitude, longitude = coverage.lattice.latitude_deg[row], coverage.lattice.longitude_deg[column]
        own = asked.longitude_deg, asked.latitude_deg
        azimuth, _, metres = _WGS84.inv(*own, longitude, latitude)
        if metres < 250.0:
            continue
        start = time.perf_counter()
        loss = _direct_loss_db(ground, asked, azimuth, metres / 1000.0, coverage.resolution.spacing_km)
        spent += time.perf_counter() - start
        off.append(float(coverage.loss_db[0, row, column]) - loss)
    size = np.abs(off)
    return Comparison(
        pixels=len(off),
        predict_s_per_pixel=spent / len(off),
        median_db=float(np.median(size)),
        within_95_db=float(np.quantile(size, 0.95)),
        mean_db=float(np.mean(off)),
    )


def compare_with_other_model(
    ground: ElevationGrid, radius_posts: int, coverage: Coverage, pixels: int
) -> OtherModel | None:
    """Random pixels of 1 km and more by itmlogic at three arc seconds; None where it is not installed."""
    if not other_model.IS_INSTALLED:
        return None
    asked = request_over(ground, radius_posts)
    rng = np.random.default_rng(2)
    off, spent = [], 0.0
    for row, column in rng.permutation(np.argwhere(np.isfinite(coverage.loss_db[0])))[:pixels]:
        latitude, longitude = coverage.lattice.latitude_deg[row], coverage.lattice.longitude_deg[column]
        own = asked.longitude_deg, asked.latitude_deg
        azimuth, _, metres = _WGS84.inv(*own, longitude, latitude)
        if metres < 1000.0:
            continue
        distance_km, ground_m, _ = _line(ground, asked, azimuth, metres / 1000.0, _POST_KM)
        start = time.perf_counter()
        loss = other_model.loss_db(_FREQUENCY_GHZ, distance_km, ground_m, (_ANTENNA_M, _RECEIVER_M))
        spent += time.perf_counter() - start
        off.append(float(coverage.loss_db[0, row, column]) - loss)
    return OtherModel(len(off), spent / len(off), float(np.median(off)))


def _line(
    ground: ElevationGrid, asked: CoverageRequest, azimuth_deg: float, km: float, spacing_km: float
) -> tuple[FloatArray, FloatArray, tuple[float, float]]:
    """Distances, km, and ground, m, on the geodesic from the relay; latitude and longitude of its end."""
    steps = max(4, math.ceil(km / spacing_km))
    distance_km = np.linspace(0.0, km, steps + 1)
    same = np.ones(steps + 1)
    longitude, latitude, _ = _WGS84.fwd(
        asked.longitude_deg * same, asked.latitude_deg * same, azimuth_deg * same, 1000.0 * distance_km
    )
    return distance_km, ground.at(latitude, longitude), (float(latitude[-1]), float(longitude[-1]))


def _direct_loss_db(
    ground: ElevationGrid, asked: CoverageRequest, azimuth_deg: float, km: float, spacing_km: float
) -> float:
    distance_km, ground_m, (latitude, longitude) = _line(ground, asked, azimuth_deg, km, spacing_km)
    return predict(
        frequency_ghz=_FREQUENCY_GHZ,
        time_percent=50.0,
        distance_km=distance_km,
        ground_m=ground_m,
        clutter_m=0.0,
        zone=4,
        tx_height_m=_ANTENNA_M,
        rx_height_m=_RECEIVER_M,
        polarization="vertical",
        tx_latitude_deg=asked.latitude_deg,
        tx_longitude_deg=asked.longitude_deg,
        rx_latitude_deg=latitude,
        rx_longitude_deg=longitude,
    ).loss_db


def peak_memory_mb() -> float:
    """The most this process has held at once.

    Read from the kernel's mark for the program as it runs now where there is one (VmHWM, proc(5)). What getrusage(2)
    gives on Linux outlives the start of a program: a process begun by a larger one is charged with its parent's peak.
    """
    status = Path("/proc/self/status")
    if status.exists():
        marks = dict(line.split(":", 1) for line in status.read_text(encoding="ascii").splitlines())
        return int(marks["VmHWM"].split()[0]) / 1024.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
