"""The ground along one path, and what a sight line over it clears.

Heights are drawn over a flat base with the Earth's bulge added to the ground, so that the ray between the
antennas is a straight line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from relays.propagation.errors import (
    AntennaHeightRangeError,
    ProfileShapeError,
    ProfileTooShortError,
)
from relays.propagation.optics import effective_radius_km
from relays.propagation.terrain import FloatArray
from relays.propagation.units import wavelength_m

IntArray = npt.NDArray[np.int64]

#: Radio-climatic zone of land that is neither sea nor near it, Recommendation ITU-R P.1812-8.
INLAND = 4

#: Share of the first Fresnel zone that is kept free where a path is to count as clear.
#: Common practice; Recommendation ITU-R P.530 builds its clearance rules on it.
CLEAR_SHARE = 0.6

#: Effective Earth radius for a lapse rate of 45 N-units/km, the median of many temperate places.
MEDIAN_RADIUS_KM = effective_radius_km(45.0)

_LEAST_POINTS = 3


@dataclass(frozen=True, slots=True)
class PathProfile:
    """The ground from one antenna to the other, evenly spaced, both ends included.

    distance_km: from the first end, 0 first, ascending. ground_m: above sea level. clutter_m: trees and
    buildings above the ground. zone: 1 sea, 3 coastal land, 4 inland. latitude_deg, longitude_deg: of every
    point. All of shape (n,). spacing_m: between points, the last included.
    """

    # Nothing of the arrays is in repr(), which ends up in logs: one end may be a home.
    distance_km: FloatArray = field(repr=False)
    ground_m: FloatArray = field(repr=False)
    clutter_m: FloatArray = field(repr=False)
    zone: IntArray = field(repr=False)
    latitude_deg: FloatArray = field(repr=False)
    longitude_deg: FloatArray = field(repr=False)
    spacing_m: float

    def __post_init__(self) -> None:
        points = self.distance_km.size
        if points < _LEAST_POINTS:
            raise ProfileTooShortError(
                "distance_km",
                points,
                f"{_LEAST_POINTS} points or more",
                f"The profile has {points} points; it needs both ends and at least one between.",
            )
        for name in ("ground_m", "clutter_m", "zone", "latitude_deg", "longitude_deg"):
            shape = getattr(self, name).shape
            if shape != (points,):
                raise ProfileShapeError(
                    name,
                    shape,
                    f"{points} numbers",
                    f"{name} must have {points} numbers, one for each distance.",
                )

    @property
    def length_km(self) -> float:
        return float(self.distance_km[-1])

    def reversed(self) -> PathProfile:
        """The same path from its other end."""
        return PathProfile(
            distance_km=self.length_km - self.distance_km[::-1],
            ground_m=np.ascontiguousarray(self.ground_m[::-1]),
            clutter_m=np.ascontiguousarray(self.clutter_m[::-1]),
            zone=np.ascontiguousarray(self.zone[::-1]),
            latitude_deg=np.ascontiguousarray(self.latitude_deg[::-1]),
            longitude_deg=np.ascontiguousarray(self.longitude_deg[::-1]),
            spacing_m=self.spacing_m,
        )

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``p1812.predict`` that describe the path, first end transmitting."""
        return {
            "distance_km": self.distance_km,
            "ground_m": self.ground_m,
            "clutter_m": self.clutter_m,
            "zone": self.zone,
            "tx_latitude_deg": float(self.latitude_deg[0]),
            "tx_longitude_deg": float(self.longitude_deg[0]),
            "rx_latitude_deg": float(self.latitude_deg[-1]),
            "rx_longitude_deg": float(self.longitude_deg[-1]),
        }


@dataclass(frozen=True, slots=True)
class Obstacle:
    """The point between the ends that reaches farthest into the Fresnel zones of the sight line.

    index: into the profile. from_tx_km, from_rx_km: its distances. surface_m: its top above sea level,
    trees and buildings included. clearance_m: from that top, raised by the bulge, up to the sight line;
    negative where it blocks. zone_radius_m: of the first Fresnel zone there. nu: its knife-edge parameter
    (Recommendation ITU-R P.526).
    """

    index: int
    latitude_deg: float = field(repr=False)
    longitude_deg: float = field(repr=False)
    from_tx_km: float
    from_rx_km: float
    surface_m: float
    clearance_m: float
    zone_radius_m: float
    nu: float

    @property
    def clearance_share(self) -> float:
        """The clearance as a share of the first Fresnel zone's radius: negative blocks, 0.6 is clear."""
        return self.clearance_m / self.zone_radius_m

    @property
    def blocks(self) -> bool:
        return self.clearance_m < 0.0

    @property
    def height_over_line_m(self) -> float:
        """How far it stands above the sight line, m; negative below."""
        return -self.clearance_m

    @property
    def is_clear(self) -> bool:
        return self.clearance_share >= CLEAR_SHARE


@dataclass(frozen=True, slots=True)
class Sight:
    """A path profile ready to draw; arrays of shape (n,), heights in m above sea level on a flat base.

    bulge_m: the Earth's, to be added to any height. ground_m and surface_m have it added already; the
    surface carries trees and buildings except at the two ends, where the antenna height is counted from
    bare ground. line_m: the straight ray. zone_radius_m: of the first Fresnel zone, 0 at both ends;
    zone_low_m and zone_high_m are its edges.
    """

    distance_km: FloatArray = field(repr=False)
    bulge_m: FloatArray = field(repr=False)
    ground_m: FloatArray = field(repr=False)
    surface_m: FloatArray = field(repr=False)
    line_m: FloatArray = field(repr=False)
    zone_radius_m: FloatArray = field(repr=False)
    obstacle: Obstacle

    @property
    def zone_low_m(self) -> FloatArray:
        return self.line_m - self.zone_radius_m

    @property
    def zone_high_m(self) -> FloatArray:
        return self.line_m + self.zone_radius_m

    @property
    def clearance_m(self) -> FloatArray:
        return self.line_m - self.surface_m


def bulge_m(from_tx_km: FloatArray, from_rx_km: FloatArray, radius_km: float) -> FloatArray:
    """Height of a sphere of that radius above the chord between the ends, m: 500 d1 d2 / radius.

    Source: Recommendation ITU-R P.1812-8 (09/2025), the curvature term of equation (13); the arrays' form of
    `optics.earth_bulge_m`. Distances in km, any shape. Good while the path is short against the radius.
    """
    return 500.0 * from_tx_km * from_rx_km / radius_km


def zone_radius_m(from_tx_km: FloatArray, from_rx_km: FloatArray, frequency_mhz: float) -> FloatArray:
    """Radius of the first Fresnel zone, m: the root of wavelength x d1 d2 / (d1 + d2); 0 at either end.

    Source: Recommendation ITU-R P.526-16 (11/2025), Fresnel ellipsoids; the arrays' form of
    `optics.fresnel_radius_m`. Distances in km, any shape; frequency in MHz, above 0, else NotPositiveError.
    """
    wavelength_km = wavelength_m(frequency_mhz) / 1000.0
    return 1000.0 * np.sqrt(wavelength_km * from_tx_km * from_rx_km / (from_tx_km + from_rx_km))


def sight(
    profile: PathProfile,
    *,
    tx_height_m: float,
    rx_height_m: float,
    frequency_mhz: float,
    radius_km: float = MEDIAN_RADIUS_KM,
) -> Sight:
    """The sight line between two antennas over a profile, its first Fresnel zone and worst obstacle.

    tx_height_m, rx_height_m: above ground at the first and last point, 0 or more, else
    AntennaHeightRangeError. radius_km: effective Earth radius, the median one of `earth_radius_km` when
    left out.
    """
    for name, height_m in (("tx_height_m", tx_height_m), ("rx_height_m", rx_height_m)):
        if not 0.0 <= height_m < math.inf:
            raise AntennaHeightRangeError(
                name,
                height_m,
                "0 m or more",
                f"{name} is {height_m:g} m; an antenna cannot hang below ground.",
            )
    from_tx_km = profile.distance_km
    from_rx_km = profile.length_km - from_tx_km
    bulge = bulge_m(from_tx_km, from_rx_km, radius_km)
    top_m = profile.ground_m + profile.clutter_m
    top_m[[0, -1]] = profile.ground_m[[0, -1]]
    line_m = (
        (profile.ground_m[0] + tx_height_m) * from_rx_km + (profile.ground_m[-1] + rx_height_m) * from_tx_km
    ) / profile.length_km
    radius = zone_radius_m(from_tx_km, from_rx_km, frequency_mhz)
    return Sight(
        distance_km=from_tx_km,
        bulge_m=bulge,
        ground_m=profile.ground_m + bulge,
        surface_m=top_m + bulge,
        line_m=line_m,
        zone_radius_m=radius,
        obstacle=_dominating(profile, top_m, line_m - top_m - bulge, radius),
    )


def _dominating(
    profile: PathProfile, top_m: FloatArray, clearance_m: FloatArray, radius_m: FloatArray
) -> Obstacle:
    """The least clearance in Fresnel radii: the greatest knife-edge parameter, nu = -sqrt(2) x share."""
    share = clearance_m[1:-1] / radius_m[1:-1]
    at = int(np.argmin(share)) + 1
    return Obstacle(
        index=at,
        latitude_deg=float(profile.latitude_deg[at]),
        longitude_deg=float(profile.longitude_deg[at]),
        from_tx_km=float(profile.distance_km[at]),
        from_rx_km=profile.length_km - float(profile.distance_km[at]),
        surface_m=float(top_m[at]),
        clearance_m=float(clearance_m[at]),
        zone_radius_m=float(radius_m[at]),
        nu=-math.sqrt(2.0) * float(share[at - 1]),
    )
