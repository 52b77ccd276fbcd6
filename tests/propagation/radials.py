"""Radials over every kind of ground, and the direct calculation of one path along them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
from matplotlib.cbook import get_sample_data

from relays.propagation.p1812 import Prediction, predict
from relays.propagation.sweep import Radial, Receivers, coast_distances_km, sweep_profile

FloatArray = npt.NDArray[np.float64]

EARTH_RADIUS_KM = 6371.0
GROUNDS = (
    "mountains",
    "mountains in whole metres",
    "mountains with lakes",
    "flat",
    "knife edge",
    "plateaus",
    "symmetric steps",
    "slope",
    "valley",
    "waves",
    "random walk",
    "spikes",
)


@dataclass(frozen=True)
class Case:
    """One radial: what the sweep is asked, in the sweep's own words."""

    ground: str
    arguments: dict[str, Any]

    @property
    def samples(self) -> int:
        return len(self.arguments["ground_m"])

    @property
    def heights(self) -> tuple[float, ...]:
        return tuple(self.arguments["rx_heights_m"])

    def swept(self, receivers: Receivers | None = None) -> Radial:
        return sweep_profile(**self.arguments, receivers=receivers)

    def directly(self, k: int, rx_height_m: float) -> Prediction:
        """The path of the samples 0..k by itself, as the general implementation has it."""
        given, upto = self.arguments, slice(0, k + 1)
        return self._predicted(
            np.arange(k + 1, dtype=np.float64),
            given["ground_m"][upto],
            given["clutter_m"][upto],
            given["zone"][upto],
            rx_height_m,
        )

    def directly_to(self, receivers: Receivers, r: int, rx_height_m: float) -> Prediction:
        """The path to one receiver between samples: samples, a point one step before, the receiver."""
        given, x = self.arguments, receivers.at[r]
        upto = slice(0, math.ceil(x) - 1)
        return self._predicted(
            np.append(np.arange(upto.stop, dtype=np.float64), (x - 1.0, x)),
            np.append(given["ground_m"][upto], (receivers.near_ground_m[r], receivers.ground_m[r])),
            np.append(given["clutter_m"][upto], (receivers.near_clutter_m[r], 0.0)),
            np.append(given["zone"][upto], (receivers.near_zone[r], receivers.zone[r])),
            rx_height_m,
        )

    def _predicted(
        self, at: FloatArray, ground_m: FloatArray, clutter_m: FloatArray, zone: Any, rx_height_m: float
    ) -> Prediction:
        given = self.arguments
        distance_km = at * given["spacing_km"]
        latitude, longitude = _along_great_circle(
            given["latitude_deg"], given["azimuth_deg"], distance_km[-1]
        )
        tx_coast_km, rx_coast_km = coast_distances_km(zone, distance_km)
        return predict(
            frequency_ghz=given["frequency_ghz"],
            time_percent=given["time_percent"],
            distance_km=distance_km,
            ground_m=ground_m,
            clutter_m=clutter_m,
            zone=zone,
            tx_height_m=given["tx_height_m"],
            rx_height_m=rx_height_m,
            polarization=given["polarization"],
            tx_latitude_deg=given["latitude_deg"],
            tx_longitude_deg=0.0,
            rx_latitude_deg=latitude,
            rx_longitude_deg=longitude,
            delta_n=given["delta_n"],
            n0=given["n0"],
            tx_coast_km=tx_coast_km,
            rx_coast_km=rx_coast_km,
        )

    def receivers(self, count: int, seed: int) -> Receivers:
        """Receivers between the samples, as many as asked, with ground, trees and zones of their own."""
        rng = np.random.default_rng(seed)
        given = self.arguments
        at = np.sort(rng.uniform(max(4.0, 0.25 / given["spacing_km"]) + 1.0, self.samples - 1, count))
        samples = np.arange(self.samples)
        ends = np.stack((at, at - 1.0))
        ground = np.interp(ends, samples, given["ground_m"]) + rng.choice([0.0, 3.0]) * rng.normal(
            size=ends.shape
        )
        nearest = np.rint(ends).astype(int)
        return Receivers(
            at=at,
            ground_m=ground[0],
            near_ground_m=ground[1],
            near_clutter_m=given["clutter_m"][nearest[1]],
            zone=given["zone"][nearest[0]],
            near_zone=given["zone"][nearest[1]],
        )

    @staticmethod
    def on_a_step(path: Prediction) -> bool:
        """Whether the path stands on the edge of the Recommendation's own step at three quarters of sea, (49):
        the last bit of a sum then decides over several dB, in either program."""
        return abs(path.sea_fraction - 0.75) < 1e-9

    def first_sample(self) -> int:
        """The first the Recommendation covers: five points and 0.25 km."""
        return max(4, int(np.ceil(0.25 / self.arguments["spacing_km"] - 1e-9)))


def random_case(seed: int, least: int = 40, most: int = 3000) -> Case:
    """A radial of `least` to `most` steps; the seed decides everything."""
    rng = np.random.default_rng(seed)
    kind = GROUNDS[seed % len(GROUNDS)]
    steps = int(np.exp(rng.uniform(np.log(least), np.log(most + 1))))
    tx_height_m = rng.uniform(2.0, 100.0)
    # Equal heights on symmetric ground make two samples tie to the last bit.
    rx_height_m = tx_height_m if kind == "symmetric steps" else rng.uniform(2.0, 100.0)
    arguments = {
        "frequency_ghz": rng.uniform(0.05, 0.45),
        "time_percent": float(rng.choice([1.0, 3.0, 10.0, 30.0, 49.0, 50.0, 50.0, 50.0])),
        "spacing_km": rng.uniform(0.03, 0.25),
        "ground_m": ground(kind, steps + 1, rng),
        "clutter_m": _clutter(steps + 1, rng),
        "zone": _zones(steps + 1, rng),
        "tx_height_m": tx_height_m,
        "rx_heights_m": (rx_height_m,),
        "polarization": str(rng.choice(["horizontal", "vertical"])),
        "latitude_deg": rng.uniform(-75.0, 75.0),
        "azimuth_deg": rng.uniform(0.0, 360.0),
        "delta_n": rng.uniform(35.0, 60.0),
        "n0": rng.uniform(300.0, 380.0),
    }
    return Case(kind, arguments)


def ground(kind: str, samples: int, rng: np.random.Generator) -> FloatArray:
    """Heights in m of one of GROUNDS."""
    i = np.arange(samples, dtype=np.float64)
    if kind.startswith("mountains"):
        heights = _mountains(samples, rng)
        if kind.endswith("metres"):
            return np.round(heights)
        return np.maximum(heights, np.quantile(heights, 0.4)) if kind.endswith("lakes") else heights
    if kind == "knife edge":
        return np.where(i == rng.integers(1, samples - 1), rng.uniform(20.0, 400.0), 20.0)
    if kind == "plateaus":
        return np.repeat(np.round(rng.uniform(0.0, 120.0, samples), -1), 11)[:samples]
    if kind == "symmetric steps":
        return 10.0 * np.round(3.0 * np.cos(2.0 * np.pi * (i - samples // 2) / (samples // 2 + 1)))
    if kind == "slope":
        return 200.0 + i * rng.uniform(-0.05, 2.0)
    if kind == "valley":
        return 300.0 * ((2.0 * i / samples - 1.0) ** 2)
    if kind == "waves":
        return 100.0 + rng.uniform(1.0, 80.0) * np.sin(i * rng.uniform(0.01, 0.6))
    if kind == "random walk":
        return 800.0 + np.clip(np.cumsum(rng.normal(0.0, 6.0, samples)), -700.0, 3000.0)
    if kind == "spikes":
        return np.where(rng.uniform(size=samples) < 0.05, rng.uniform(0.0, 90.0, samples), 5.0)
    return np.full(samples, 120.0)


@cache
def mountain_grid() -> npt.NDArray[np.float32]:
    """A real 3-arc-second elevation grid of the U.S. Geological Survey that comes with matplotlib."""
    with get_sample_data("jacksboro_fault_dem.npz") as archive:
        return np.asarray(archive["elevation"], dtype=np.float32)


def _mountains(samples: int, rng: np.random.Generator) -> FloatArray:
    """A straight line over the real grid, mirrored at its edges, a post a step, bilinear."""
    grid = mountain_grid()
    direction = rng.uniform(0.0, 2.0 * np.pi)
    i = np.arange(samples)
    row = _mirrored(rng.uniform(0, grid.shape[0]) + i * np.sin(direction), grid.shape[0])
    column = _mirrored(rng.uniform(0, grid.shape[1]) + i * np.cos(direction), grid.shape[1])
    top, left = np.floor(row).astype(int), np.floor(column).astype(int)
    down, right = row - top, column - left
    upper = grid[top, left] * (1 - right) + grid[top, left + 1] * right
    lower = grid[top + 1, left] * (1 - right) + grid[top + 1, left + 1] * right
    return np.asarray(upper * (1 - down) + lower * down, dtype=np.float64)


def _mirrored(position: FloatArray, count: int) -> FloatArray:
    span = count - 1.001
    return span - np.abs(np.mod(position, 2.0 * span) - span)


def _clutter(samples: int, rng: np.random.Generator) -> FloatArray:
    kind = rng.integers(4)
    if kind == 0:
        return np.full(samples, rng.choice([5.0, 10.0, 20.0]))
    if kind == 1:
        return np.repeat(rng.choice([0.0, 5.0, 15.0], samples), 7)[:samples]
    return np.zeros(samples)


def _zones(samples: int, rng: np.random.Generator) -> npt.NDArray[np.int64]:
    kind = rng.integers(5)
    if kind == 0:
        runs = rng.choice([1, 1, 3, 4], 12)
        return np.resize(np.repeat(runs, rng.integers(2, samples // 3)), samples)
    if kind == 1:
        return np.full(samples, rng.choice([1, 3]))
    return np.full(samples, 4)


def _along_great_circle(latitude_deg: float, azimuth_deg: float, distance_km: float) -> tuple[float, float]:
    """Where a great circle of the sphere gets to from longitude 0."""
    arc, latitude, azimuth = distance_km / EARTH_RADIUS_KM, *np.radians([latitude_deg, azimuth_deg])
    sine = np.sin(latitude) * np.cos(arc) + np.cos(latitude) * np.sin(arc) * np.cos(azimuth)
    east = np.sin(azimuth) * np.sin(arc) * np.cos(latitude)
    return float(np.degrees(np.arcsin(sine))), float(
        np.degrees(np.arctan2(east, np.cos(arc) - np.sin(latitude) * sine))
    )
