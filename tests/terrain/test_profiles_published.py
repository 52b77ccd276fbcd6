"""Great circles, Fresnel zones and the Earth's bulge against outside values."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Geod

from relays.ground import great_circle
from relays.propagation.profile import bulge_m, zone_radius_m

ONE_MILLIMETRE_KM = 1e-6
# The worked example prints hundredths of an arc second.
HUNDREDTH_OF_A_SECOND = 0.01 / 3600
# The constant 550 in the printed form is rounded, and reads 0.44 % high.
ROUNDED_CONSTANT = 0.006
# 6371 km x 4/3 against the 12.75 km of the handbook's rounded factor.
ROUNDED_RADIUS = 0.002


def degrees(whole: int, minutes: int, seconds: float) -> float:
    return whole + minutes / 60 + seconds / 3600


FLINDERS_PEAK = (-degrees(37, 57, 3.72030), degrees(144, 25, 29.52440))
BUNINYONG = (-degrees(37, 39, 10.15610), degrees(143, 55, 35.38390))


def test_flinders_peak_to_buninyong() -> None:
    """Geocentric Datum of Australia Technical Manual, Intergovernmental Committee on Surveying and Mapping,
    version 2.x, chapter 4, Vincenty's inverse formula: 54 972.271 m, 306 52 05.37, back 127 10 25.07.

    The distance and the way out are widely quoted; all three from memory, the way back with least
    certainty. GRS 80 and WGS 84 differ by 0.1 mm
    in their lesser axis, which does not show here.
    """
    way = great_circle(*FLINDERS_PEAK, *BUNINYONG, spacing_m=45.0)
    assert way.distance_km[-1] == pytest.approx(54.972271, abs=ONE_MILLIMETRE_KM)
    assert way.bearing_deg == pytest.approx(degrees(306, 52, 5.37), abs=HUNDREDTH_OF_A_SECOND)
    assert way.last_bearing_deg == pytest.approx(degrees(127, 10, 25.07), abs=HUNDREDTH_OF_A_SECOND)


def test_points_between_lie_where_the_direct_problem_puts_them() -> None:
    """PROJ's geodesics (C. F. F. Karney, Journal of Geodesy 87, 2013), asked the other way round."""
    way = great_circle(*FLINDERS_PEAK, *BUNINYONG, spacing_m=45.0)
    latitude, longitude = FLINDERS_PEAK
    for at in (1, 400, 1000):
        there = Geod(ellps="WGS84").fwd(longitude, latitude, way.bearing_deg, 1000.0 * way.distance_km[at])
        # 1e-9 degrees are a tenth of a millimetre.
        assert (way.longitude_deg[at], way.latitude_deg[at]) == pytest.approx(there[:2], abs=1e-9)


@pytest.mark.parametrize(
    ("frequency_mhz", "d1_km", "d2_km", "printed_m"),
    [
        (146.0, 10.0, 10.0, 101.78),
        (146.0, 25.0, 25.0, 160.93),
        (440.0, 10.0, 10.0, 58.63),
        (440.0, 25.0, 25.0, 92.70),
        (146.0, 1.0, 49.0, 45.06),
    ],
)
def test_the_first_fresnel_zone(frequency_mhz: float, d1_km: float, d2_km: float, printed_m: float) -> None:
    """Recommendation ITU-R P.526-16 (11/2025), Fresnel ellipsoids: 550 sqrt(d1 d2 / ((d1 + d2) f))."""
    radius_m = zone_radius_m(np.array([d1_km]), np.array([d2_km]), frequency_mhz)[0]
    assert radius_m == pytest.approx(printed_m, rel=ROUNDED_CONSTANT)


@pytest.mark.parametrize(("d1_km", "d2_km"), [(10.0, 10.0), (25.0, 25.0), (5.0, 45.0)])
def test_the_earth_bulges_as_the_handbooks_say(d1_km: float, d2_km: float) -> None:
    """d1 d2 / (12.75 k) metres with k = 4/3: microwave handbooks, from memory."""
    found_m = bulge_m(np.array([d1_km]), np.array([d2_km]), 6371.0 * 4.0 / 3.0)[0]
    assert found_m == pytest.approx(d1_km * d2_km / (12.75 * 4.0 / 3.0), rel=ROUNDED_RADIUS)
