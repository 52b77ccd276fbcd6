"""The sphere as Recommendation ITU-R P.1812 uses it."""

from __future__ import annotations

import math

#: Mean Earth radius of Recommendations ITU-R P.526 and P.1812, km.
EARTH_RADIUS_KM = 6371.0

_BEARING_UNDEFINED_BELOW = 1e-9


def path_centre_latitude_deg(
    *,
    tx_latitude_deg: float,
    tx_longitude_deg: float,
    rx_latitude_deg: float,
    rx_longitude_deg: float,
    path_length_km: float,
) -> float:
    """Latitude of the point half the path length from the transmitter towards the receiver, degrees.

    Source: Recommendation ITU-R P.1812-8 (09/2025), the great-circle calculation it prescribes for
    the path centre, on a sphere of 6371 km. The bearing comes from the coordinates, the
    distance from the profile, so coordinates rounded to a locator square still serve.

    Latitudes in -90..90 degrees, longitudes in -180..180 degrees, path length in km.
    Where both terminals coincide the bearing has no meaning and the receiver's longitude stands in
    for it, as in the reference implementation.
    """
    tx_latitude = math.radians(tx_latitude_deg)
    rx_latitude = math.radians(rx_latitude_deg)
    longitude_step = math.radians(rx_longitude_deg - tx_longitude_deg)
    cosine_of_arc = math.sin(tx_latitude) * math.sin(rx_latitude) + math.cos(tx_latitude) * math.cos(
        rx_latitude
    ) * math.cos(longitude_step)
    north = math.sin(rx_latitude) - cosine_of_arc * math.sin(tx_latitude)
    east = math.cos(tx_latitude) * math.cos(rx_latitude) * math.sin(longitude_step)
    if abs(north) < _BEARING_UNDEFINED_BELOW and abs(east) < _BEARING_UNDEFINED_BELOW:
        bearing = math.radians(rx_longitude_deg)
    else:
        bearing = math.atan2(east, north)
    half_arc = path_length_km / 2 / EARTH_RADIUS_KM
    sine_of_latitude = math.sin(tx_latitude) * math.cos(half_arc) + math.cos(tx_latitude) * math.sin(
        half_arc
    ) * math.cos(bearing)
    return math.degrees(math.asin(max(-1.0, min(1.0, sine_of_latitude))))
