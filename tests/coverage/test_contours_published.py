"""Outlines against RFC 7946, The GeoJSON Format (August 2016); each check names its section."""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from relays.coverage import live
from relays.coverage.rasters import LossRaster
from relays.models import CoverageRun, Relay
from relays.propagation.terrain import Lattice
from relays.reach import contours, exports
from relays.reach.radios import typical
from relays.reach.thresholds import reach

THRESHOLDS = (100.0, 120.0, 140.0)
STEP = 1 / 1200


def bowl(west: float = -84.0, rows: int = 60, columns: int = 80) -> LossRaster:
    """Loss that grows outwards, with an island of high loss inside and a corner of unknown ground."""
    row, column = np.mgrid[0:rows, 0:columns]
    loss = 80.0 + 1.6 * np.hypot(row - 25, (column - 33) * 0.9)
    loss += 90.0 * np.exp(-((row - 32) ** 2 + (column - 45) ** 2) / 12.0)
    loss[:9, -14:] = np.nan
    lattice = Lattice(36.0, west, STEP, STEP, rows, columns)
    return LossRaster(lattice, loss.astype(np.float32), 20.0, 1.5, 146.43, 60.0, 30.0, False)


def rings(found: dict[str, Any]) -> Iterator[tuple[bool, list[list[float]]]]:
    """(is it an outer ring, the ring)"""
    for feature in found["features"]:
        for polygon in feature["geometry"]["coordinates"]:
            for index, ring in enumerate(polygon):
                yield index == 0, ring


def signed_area(ring: list[list[float]]) -> float:
    """Shoelace: positive is counterclockwise with east to the right and north up."""
    x, y = np.array(ring).T
    return float((x[:-1] * y[1:] - x[1:] * y[:-1]).sum() / 2)


@pytest.fixture
def found() -> dict[str, Any]:
    return contours.collection(bowl(), THRESHOLDS, relay="Slope 2 m")


def test_it_is_a_feature_collection_of_features(found: dict[str, Any]) -> None:
    """Sections 3.2 and 3.3."""
    assert found["type"] == "FeatureCollection"
    for feature in found["features"]:
        assert feature["type"] == "Feature"
        assert {"geometry", "properties"} <= set(feature)
        assert feature["geometry"]["type"] == "MultiPolygon"


def test_longitude_stands_before_latitude(found: dict[str, Any]) -> None:
    """Section 3.1.1."""
    for _, ring in rings(found):
        assert all(-84.1 < longitude < -83.8 and 35.9 < latitude < 36.1 for longitude, latitude in ring)


def test_rings_are_closed_and_have_four_positions_or_more(found: dict[str, Any]) -> None:
    """Section 3.1.6: first and last positions are equal; a linear ring has four or more."""
    for _, ring in rings(found):
        assert ring[0] == ring[-1]
        assert len(ring) >= 4


def test_outer_rings_run_counterclockwise_and_holes_clockwise(found: dict[str, Any]) -> None:
    """Section 3.1.6, the right-hand rule."""
    kinds = [(outer, signed_area(ring) > 0) for outer, ring in rings(found)]
    assert (True, True) in kinds
    assert (False, False) in kinds, "the island of high loss is a hole"
    assert all(outer == counterclockwise for outer, counterclockwise in kinds)


def test_there_is_no_crs_member(found: dict[str, Any]) -> None:
    """Section 4: WGS 84, and the "crs" of the 2008 draft is gone."""
    assert '"crs"' not in json.dumps(found)


def test_the_bounding_box_is_west_south_east_north(found: dict[str, Any]) -> None:
    """Section 5."""
    places = np.array([place for _, ring in rings(found) for place in ring])
    west, south = places.min(axis=0)
    east, north = places.max(axis=0)
    assert found["bbox"] == [west, south, east, north]


def test_positions_keep_no_more_digits_than_they_are_worth(found: dict[str, Any]) -> None:
    """Section 11.2: about ten centimetres are six decimals; a metre needs five."""
    for _, ring in rings(found):
        assert all(round(value, 5) == value for place in ring for value in place)


def test_an_outline_is_cut_at_the_180_degree_meridian() -> None:
    """Section 3.1.9."""
    found = contours.collection(bowl(west=180.0 - 40.4 * STEP), THRESHOLDS)
    longitude = np.array([place[0] for _, ring in rings(found) for place in ring])
    assert np.abs(longitude).max() <= 180.0
    assert (longitude == 180.0).any()
    assert (longitude == -180.0).any()
    for _, ring in rings(found):
        east_west = np.ptp(np.array(ring)[:, 0])
        assert east_west < 1.0, "no ring runs round the globe"
    west, _, east, _ = found["bbox"]
    assert west > 179.0
    assert east < -179.0, "section 5.2: west is then the larger number"


def test_a_place_is_inside_exactly_when_its_loss_is_small_enough(found: dict[str, Any]) -> None:
    """Even-odd rule at the middle of every cell against the four losses around it."""
    raster = bowl()
    usable = next(each for each in found["features"] if each["properties"]["verdict"] == "usable or better")
    polygons = usable["geometry"]["coordinates"]
    for row, column in ((25, 33), (32, 45), (5, 5), (55, 75), (40, 30), (3, 70), (25, 60)):
        loss = raster.loss_db[row, column]
        x, y = raster.lattice.longitude_deg[column], raster.lattice.latitude_deg[row]
        inside = any(crossings(ring, x, y) for polygon in polygons for ring in polygon[:1])
        holes = any(crossings(ring, x, y) for polygon in polygons for ring in polygon[1:])
        assert (inside and not holes) == bool(loss <= 120.0)


def crossings(ring: list[list[float]], x: float, y: float) -> bool:
    inside = False
    for (x1, y1), (x2, y2) in pairwise(ring):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            inside = not inside
    return inside


def test_a_better_verdict_lies_inside_a_lesser_one_and_on_top(found: dict[str, Any]) -> None:
    names = [feature["properties"]["verdict"] for feature in found["features"]]
    assert names == ["marginal or better", "usable or better", "solid"]
    sizes = [
        sum(signed_area(ring) for polygon in each["geometry"]["coordinates"] for ring in polygon)
        for each in found["features"]
    ]
    assert sizes == sorted(sizes, reverse=True)


def test_a_verdict_reached_nowhere_is_left_out() -> None:
    found = contours.collection(bowl(), (10.0, 20.0, 30.0))
    assert found == {"type": "FeatureCollection", "features": []}


def test_the_outlines_of_a_relay_say_what_they_are(done_run: CoverageRun, hill_relay: Relay) -> None:
    raster = live.loss(live.question(hill_relay, receiver_height_m=1.5))
    its = reach(typical("handheld_in_hand", hill_relay), hill_relay)
    words = exports.Words(hill_relay, "a handheld in the hand", "P.1812-8")
    found = json.loads(exports.outlines(raster, its, words))
    properties = found["features"][0]["properties"]
    assert properties["relay"] == "Slope 2 m"
    assert properties["receiver_height_m"] == 1.5
    assert properties["largest_loss_db"] == pytest.approx(its.thresholds_db()[-1], abs=0.01)
