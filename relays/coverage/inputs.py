"""Everything that the raster of a relay depends on, as plain JSON values with a digest.

Power, gain, feedline, duplexer and receiver are not among them: the raster is loss, and a margin is a
subtraction away.
"""

from __future__ import annotations

from typing import Any, cast

from django.conf import settings

from relays import paths
from relays.models import Relay
from relays.propagation.p1812.inputs import Polarization
from relays.propagation.presets import PRESETS
from relays.propagation.raster_request import CoverageRequest

# Raised by hand whenever the raster's calculation changes, so that every stored one turns stale.
RASTER_EDITION = "P.1812-8 (09/2025), raster 2"
#: The heights of all radios that one can start from, metres above ground, lowest first.
STANDARD_HEIGHTS_M = tuple(sorted({found.height.value for key, found in PRESETS.items() if key != "relay"}))
_HEIGHT_DECIMALS = 2


def inputs_of(
    relay: Relay,
    ground_version: str,
    *,
    antenna_height_m: float | None = None,
    receiver_heights_m: tuple[float, ...] = STANDARD_HEIGHTS_M,
    radius_km: float | None = None,
) -> dict[str, Any]:
    """What would be computed today; the relay's own height and the club's radius unless others are given."""
    site = relay.site
    height_m = relay.antenna_height_m if antenna_height_m is None else antenna_height_m
    return {
        "edition": RASTER_EDITION,
        "terrain": ground_version,
        "latitude_deg": round(site.latitude_deg, paths.DECIMALS),
        "longitude_deg": round(site.longitude_deg, paths.DECIMALS),
        "antenna_height_m": round(float(height_m), _HEIGHT_DECIMALS),
        "polarization": "horizontal" if relay.polarization == Relay.Polarization.HORIZONTAL else "vertical",
        "frequency_mhz": middle_frequency_mhz(relay),
        "receiver_heights_m": [round(float(each), _HEIGHT_DECIMALS) for each in receiver_heights_m],
        "radius_km": float(settings.COVERAGE_RADIUS_KM if radius_km is None else radius_km),
        "delta_n": settings.PATH_DELTA_N,
        "n0": settings.PATH_N0,
        "clutter_m": settings.PATH_CLUTTER_M,
    }


def middle_frequency_mhz(relay: Relay) -> float:
    """Half-way between input and output: one raster serves both directions (see `propagation.raster`)."""
    return round((float(relay.input_mhz) + float(relay.output_mhz)) / 2.0, 4)


def request_from(inputs: dict[str, Any]) -> CoverageRequest:
    """The same as the raster's calculation takes it."""
    return CoverageRequest(
        latitude_deg=inputs["latitude_deg"],
        longitude_deg=inputs["longitude_deg"],
        antenna_height_m=inputs["antenna_height_m"],
        receiver_heights_m=tuple(inputs["receiver_heights_m"]),
        frequency_mhz=inputs["frequency_mhz"],
        radius_km=inputs["radius_km"],
        polarization=cast(Polarization, inputs["polarization"]),
        delta_n=inputs["delta_n"],
        n0=inputs["n0"],
    )
