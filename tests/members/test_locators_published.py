"""Locators against published positions, the definition of the grid, and another implementation.

Munich, Montevideo, Washington and Wellington: E. Tyson, "Conversion Between Geodetic and Grid Locator
Systems", QST, January 1989 (the places are the article's own). The edges follow from the definition of the
grid. The outside implementation is the Python package `maidenhead`, used at cell centres: near an edge it
rounds into the next cell, and its two-character locators are wrong.
"""

import math
import re

import maidenhead
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clubops.members import locators

PUBLISHED = [
    (48.14666, 11.60833, "JN58td"),
    (-34.91, -56.21166, "GF15vc"),
    (38.92, -77.065, "FM18lw"),
    (-41.28333, 174.745, "RE78ir"),
    # Two worked examples in common use; where they were first printed is not known.
    (41.714775, -72.727260, "FN31pr"),
    (37.413708, -122.1073236, "CM87wj"),
]
EDGES = [
    (0, 0, "JJ00aa"),
    (-90, -180, "AA00aa"),
    (89.999, 179.999, "RR99xx"),
    (90, 180, "RR99xx"),
    (90, -180, "AR09ax"),
    (-90, 180, "RA90xa"),
    (-1e-7, -1e-7, "II99xx"),
    (48.125, 11.583333333333334, "JN58td"),
]
CENTRES = [
    ("FN31", 41.5, -73.0, 1.0, 2.0),
    ("JO62", 52.5, 13.0, 1.0, 2.0),
    ("FN31pr", 41.72917, -72.70833, 2.5 / 60, 5 / 60),
    ("JN58td", 48.14583, 11.625, 2.5 / 60, 5 / 60),
    ("JJ", 5.0, 10.0, 10.0, 20.0),
]
# Half of the last printed digit of the centres above.
PRINTED_DEG = 0.5e-5

LATITUDES = st.floats(-90, 90)
LONGITUDES = st.floats(-180, 180)
LENGTHS = st.sampled_from([2, 4, 6, 8])


@pytest.mark.parametrize(("latitude_deg", "longitude_deg", "locator"), PUBLISHED + EDGES)
def test_a_position_has_its_published_locator(latitude_deg, longitude_deg, locator):
    assert locators.to_locator(latitude_deg, longitude_deg) == locator
    assert locators.to_locator(latitude_deg, longitude_deg, 4) == locator[:4]
    assert locators.to_locator(latitude_deg, longitude_deg, 2) == locator[:2]


@pytest.mark.parametrize(("locator", "latitude_deg", "longitude_deg", "height_deg", "width_deg"), CENTRES)
def test_a_locator_has_its_centre_and_size(locator, latitude_deg, longitude_deg, height_deg, width_deg):
    cell = locators.from_locator(locator)
    assert cell.latitude_deg == pytest.approx(latitude_deg, abs=PRINTED_DEG)
    assert cell.longitude_deg == pytest.approx(longitude_deg, abs=PRINTED_DEG)
    assert (cell.height_deg, cell.width_deg) == pytest.approx((height_deg, width_deg))


@pytest.mark.parametrize("text", ["fn31PR", "FN31PR", " fn31pr ", "FN31pr"])
def test_case_and_blanks_around_it_do_not_matter(text):
    assert locators.from_locator(text).locator == "FN31pr"


@settings(deadline=None)
@given(LATITUDES, LONGITUDES, LENGTHS)
def test_a_point_lies_in_the_cell_of_its_locator(latitude_deg, longitude_deg, characters):
    cell = locators.from_locator(locators.to_locator(latitude_deg, longitude_deg, characters))
    half_a_millimetre_deg = 1e-8
    assert cell.south_deg - half_a_millimetre_deg <= latitude_deg <= cell.north_deg + half_a_millimetre_deg
    assert cell.west_deg - half_a_millimetre_deg <= longitude_deg <= cell.east_deg + half_a_millimetre_deg


@settings(deadline=None)
@given(LATITUDES, LONGITUDES, LENGTHS)
def test_the_centre_of_a_cell_has_its_locator(latitude_deg, longitude_deg, characters):
    cell = locators.from_locator(locators.to_locator(latitude_deg, longitude_deg, characters))
    assert locators.to_locator(cell.latitude_deg, cell.longitude_deg, characters) == cell.locator


@settings(deadline=None)
@given(LATITUDES, LONGITUDES, st.sampled_from([4, 6, 8]))
def test_another_implementation_agrees_on_the_cell_and_its_edges(latitude_deg, longitude_deg, characters):
    cell = locators.from_locator(locators.to_locator(latitude_deg, longitude_deg, characters))
    outside = maidenhead.to_maiden(cell.latitude_deg, cell.longitude_deg, precision=characters // 2)
    assert outside == cell.locator
    (south, west), (north, east), centre = maidenhead.to_location_rect(cell.locator)
    assert (cell.south_deg, cell.west_deg) == pytest.approx((south, west))
    assert (cell.north_deg, cell.east_deg) == pytest.approx((north, east))
    assert (cell.latitude_deg, cell.longitude_deg) == pytest.approx(centre)


def test_every_edge_typed_as_decimal_degrees_begins_its_cell():
    edges_deg = [round(-90 + subsquare / 24, 9) for subsquare in range(24 * 10 * 18)]
    cells = [locators.from_locator(locators.to_locator(south_deg, 0.0)) for south_deg in edges_deg]
    assert [cell.south_deg for cell in cells] == pytest.approx(edges_deg, abs=1e-8)


def test_a_public_page_gets_the_square_and_no_more():
    assert locators.public_locator(48.14666, 11.60833) == "JN58"


@pytest.mark.parametrize(
    "text", ["", "F", "FN3", "FN31p", "SN31", "FN31py", "3131", "FN31pr12ab", "FN 31", "ＦＮ31", "FN٣١"]
)
def test_it_refuses_what_is_no_locator(text):
    with pytest.raises(locators.UnreadableLocator, match=re.escape(f"“{text}” is not a locator")):
        locators.from_locator(text)


@pytest.mark.parametrize("value_deg", [90.0001, -91, math.nan, math.inf])
def test_it_refuses_a_latitude_that_does_not_exist_and_says_nothing_of_the_longitude(value_deg):
    with pytest.raises(locators.OffTheGlobe, match=r"latitude .* between -90° and 90°") as caught:
        locators.to_locator(value_deg, 12.3456)
    assert "12.3456" not in str(caught.value)


@pytest.mark.parametrize("value_deg", [180.0001, -181, math.nan])
def test_it_refuses_a_longitude_that_does_not_exist(value_deg):
    with pytest.raises(locators.OffTheGlobe, match=r"longitude .* between -180° and 180°"):
        locators.public_locator(12.3456, value_deg)


@pytest.mark.parametrize("characters", [0, 1, 3, 10])
def test_it_refuses_a_length_that_no_locator_has(characters):
    with pytest.raises(locators.LocatorError, match=f"2, 4, 6 or 8 characters, not {characters}"):
        locators.to_locator(0, 0, characters)
