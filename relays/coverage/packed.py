"""A raster of loss as the few bytes that a browser gets.

Layout, all numbers little-endian: 4 bytes, the length of the head; the head, JSON in UTF-8; then one number
a pixel, row by row from the north-west. A pixel is the loss in steps of `step_db`, plus 2; 0 is a place
beyond the radius, 1 a place of which nothing is known. What is sent is the difference from the pixel to the
left (in the first column, above), zigzagged so that small differences either way are small numbers, first
the low bytes of all pixels and then the high bytes. Neighbours differ little, so the high bytes are nearly
all nought and the whole shrinks to about a third under gzip.
"""

from __future__ import annotations

import gzip
import json
import math
import struct
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from relays.coverage.rasters import LossRaster
from relays.propagation.relief import post_spacing_m
from relays.propagation.terrain import Lattice

BEYOND, UNKNOWN, FIRST = 0, 1, 2
#: As many kB as it can save at little cost; level 9 takes twenty times as long for one per cent.
_GZIP_LEVEL = 6


def packed(raster: LossRaster, place: tuple[float, float], *, step_db: float, **more: Any) -> bytes:
    """The bytes, gzipped (they are meant to be sent with Content-Encoding: gzip).

    place: latitude and longitude of the relay, to tell "beyond the radius" from "not known". more: further
    entries of the head.
    """
    lattice = raster.lattice
    head = {
        "rows": lattice.rows,
        "columns": lattice.columns,
        "north": lattice.north_deg,
        "west": lattice.west_deg,
        "latitude_step": lattice.latitude_step_deg,
        "longitude_step": lattice.longitude_step_deg,
        "row_km2": [round(area, 8) for area in row_areas_km2(lattice)],
        "step_db": step_db,
        "antenna_height_m": raster.antenna_height_m,
        "receiver_height_m": raster.receiver_height_m,
        "frequency_mhz": raster.frequency_mhz,
        "radius_km": raster.radius_km,
        "spacing_m": raster.spacing_m,
        "end_sentence": raster.end_sentence,
    } | more
    text = json.dumps(head, separators=(",", ":")).encode()
    body = struct.pack("<I", len(text)) + text + _bytes_of(_codes(raster, place, step_db))
    return gzip.compress(body, _GZIP_LEVEL, mtime=0)


def thinned(raster: LossRaster, most_posts: int) -> LossRaster:
    """Every second, third, ... post, so that there are no more than so many; nothing is averaged."""
    every = math.ceil(math.sqrt(raster.loss_db.size / most_posts))
    if every <= 1:
        return raster
    part = slice(None, None, every)
    return replace(raster, lattice=raster.lattice.part(part, part), loss_db=raster.loss_db[part, part])


def row_areas_km2(lattice: Lattice) -> npt.NDArray[np.float64]:
    """The area one pixel stands for in each row, km², shape (rows,)."""
    row_m, column_m = post_spacing_m(lattice)
    return np.asarray(row_m * column_m / 1e6, dtype=np.float64)


def _codes(raster: LossRaster, place: tuple[float, float], step_db: float) -> npt.NDArray[np.uint16]:
    known = ~np.isnan(raster.loss_db)
    steps = np.rint(np.where(known, raster.loss_db, 0.0) / np.float32(step_db))
    codes = np.where(known, np.clip(steps, 0, 65000) + FIRST, UNKNOWN).astype(np.uint16)
    codes[~known & (distance_km(raster.lattice, place) > raster.radius_km)] = BEYOND
    return codes


def distance_km(lattice: Lattice, place: tuple[float, float]) -> npt.NDArray[np.float64]:
    """From a place to every post, km, flat around the place: good to a per cent out to 300 km.

    Enough to tell whether a pixel without an answer lies inside the circle.
    """
    latitude, longitude = place
    middle = np.radians(0.5 * (lattice.latitude_deg + latitude))
    north_km = 111.195 * (lattice.latitude_deg - latitude)
    east_deg = (lattice.longitude_deg - longitude + 180.0) % 360.0 - 180.0
    east_km = 111.195 * np.cos(middle)[:, None] * east_deg[None, :]
    return np.asarray(np.hypot(north_km[:, None], east_km), dtype=np.float64)


def _bytes_of(codes: npt.NDArray[np.uint16]) -> bytes:
    left = np.empty_like(codes)
    left[:, 1:] = codes[:, :-1]
    left[1:, 0] = codes[:-1, 0]
    left[0, 0] = 0
    # Modulo 65536, so that no jump is too large.
    step = (codes - left).view(np.int16)
    zigzag = ((step << 1) ^ (step >> 15)).view(np.uint16)
    return (zigzag & 0xFF).astype(np.uint8).tobytes() + (zigzag >> 8).astype(np.uint8).tobytes()
