"""The optics of a radio path: free space, Fresnel zones, knife edges and the bent horizon.

These serve pages that explain a path. The loss of a whole path is p1812.predict.
"""

from __future__ import annotations

import math

from relays.propagation import errors
from relays.propagation.geodesy import EARTH_RADIUS_KM
from relays.propagation.units import positive, wavelength_m

#: Below this parameter an edge is taken to cost nothing, Recommendation ITU-R P.526-16 equation (31).
KNIFE_EDGE_CUT_NU = -0.78

#: The radius that gives 157 N-units/km and more an infinite or inverted Earth.
_FLAT_EARTH_LAPSE_RATE = 157.0


def free_space_loss_db(frequency_mhz: float, distance_km: float) -> float:
    """Free-space basic transmission loss between isotropic antennas, dB.

    Source: Recommendation ITU-R P.525-5 (11/2024): 32.4 + 20 log f + 20 log d. The constant is rounded
    there; with the exact speed of light it would be 32.45.

    frequency_mhz, distance_km: above 0, else NotPositiveError.
    """
    frequency = positive("frequency_mhz", frequency_mhz, "MHz")
    distance = positive("distance_km", distance_km, "km")
    return 32.4 + 20.0 * math.log10(frequency) + 20.0 * math.log10(distance)


def knife_edge_loss_db(nu: float) -> float:
    """Loss J(nu) of a single knife edge, dB; 0 at and below nu = -0.78.

    Source: Recommendation ITU-R P.526-16 (11/2025), single knife-edge obstacle; the same curve
    is equation (12) of P.1812-8. It stays within 0.13 dB of the Fresnel integral up to nu = 10.
    """
    if nu <= KNIFE_EDGE_CUT_NU:
        return 0.0
    shifted = nu - 0.1
    return 6.9 + 20.0 * math.log10(math.sqrt(shifted**2 + 1.0) + shifted)


def knife_edge_nu(
    frequency_mhz: float, height_above_ray_m: float, tx_distance_km: float, rx_distance_km: float
) -> float:
    """Dimensionless parameter nu of a knife edge; positive where the edge cuts the ray.

    Source: Recommendation ITU-R P.526-16 (11/2025), single knife-edge obstacle:
    h sqrt(2/lambda (1/d1 + 1/d2)).

    height_above_ray_m: negative where the ray clears the edge. Frequency and both distances above 0,
    else NotPositiveError.
    """
    d1_m = 1000.0 * positive("tx_distance_km", tx_distance_km, "km")
    d2_m = 1000.0 * positive("rx_distance_km", rx_distance_km, "km")
    return height_above_ray_m * math.sqrt(2.0 / wavelength_m(frequency_mhz) * (1.0 / d1_m + 1.0 / d2_m))


def fresnel_radius_m(
    frequency_mhz: float, tx_distance_km: float, rx_distance_km: float, zone: int = 1
) -> float:
    """Radius of the nth Fresnel zone at a point of the path, m.

    Source: Recommendation ITU-R P.526-16 (11/2025), Fresnel ellipsoids: sqrt(n lambda d1 d2 / (d1 + d2)).
    The rounded constant 550 printed beside it reads 0.4 % higher.

    Frequency, both distances and the zone's number above 0, else NotPositiveError.
    """
    d1_m = 1000.0 * positive("tx_distance_km", tx_distance_km, "km")
    d2_m = 1000.0 * positive("rx_distance_km", rx_distance_km, "km")
    order = positive("zone", zone, "")
    return math.sqrt(order * wavelength_m(frequency_mhz) * d1_m * d2_m / (d1_m + d2_m))


def effective_radius_factor(delta_n: float) -> float:
    """Effective over true Earth radius for a lapse rate in N-units/km, given as a positive number.

    Source: Recommendation ITU-R P.1812-8 (09/2025), equation (6): 157 / (157 - delta_n). Median air gives
    about 4/3. RefractivityRangeError at 157 and above, where rays follow or outrun the Earth's curve.
    """
    if not math.isfinite(delta_n) or delta_n >= _FLAT_EARTH_LAPSE_RATE:
        raise errors.RefractivityRangeError(
            "delta_n",
            delta_n,
            "less than 157 N-units/km",
            f"delta_n is {delta_n:g} N-units/km; it must be less than 157.",
        )
    return _FLAT_EARTH_LAPSE_RATE / (_FLAT_EARTH_LAPSE_RATE - delta_n)


def effective_radius_km(delta_n: float) -> float:
    """Effective Earth radius, km, equation (7a) of the same Recommendation."""
    return EARTH_RADIUS_KM * effective_radius_factor(delta_n)


def horizon_km(tx_height_m: float, rx_height_m: float = 0.0, radius_factor: float = 4.0 / 3.0) -> float:
    """Farthest two antennas can be apart and still see one another over a smooth Earth, km.

    Source: geometry, sqrt(2 k a h) for each antenna; with k = 4/3 the constant is 4.12 km for heights
    in metres (Federal Standard 1037C prints 2.23 nautical miles).

    Heights in m of 0 or more above the smooth Earth, else NotPositiveError.
    """
    reach = 0.0
    for quantity, height in (("tx_height_m", tx_height_m), ("rx_height_m", rx_height_m)):
        if not height >= 0.0:
            raise errors.NotPositiveError(
                quantity, height, "0 m or more", f"{quantity} is {height:g} m; it must be 0 m or more."
            )
        reach += math.sqrt(2.0 * radius_factor * EARTH_RADIUS_KM * height / 1000.0)
    return reach


def earth_bulge_m(tx_distance_km: float, rx_distance_km: float, radius_factor: float = 4.0 / 3.0) -> float:
    """How far the Earth's curve rises above the chord between the path's ends, m.

    Source: geometry, d1 d2 / (2 k a), as in equation (13) of Recommendation ITU-R P.1812-8.
    """
    return 500.0 * tx_distance_km * rx_distance_km / (radius_factor * EARTH_RADIUS_KM)
