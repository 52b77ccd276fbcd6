"""A picture with its world file and legend, read back by another program's eyes."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np
import pytest
import rasterio

from relays.coverage import live
from relays.models import CoverageRun, Relay
from relays.reach import exports
from relays.reach.radios import typical
from relays.reach.thresholds import Reach, reach


@pytest.fixture
def its(hill_relay: Relay) -> Reach:
    return reach(typical("handheld_in_hand", hill_relay), hill_relay)


@pytest.fixture
def archive(done_run: CoverageRun, hill_relay: Relay, its: Reach) -> bytes:
    raster = live.loss(live.question(hill_relay, receiver_height_m=1.5))
    return exports.picture(raster, its, exports.Words(hill_relay, "a handheld in the hand", "P.1812-8"))


def test_it_holds_a_picture_a_world_file_and_a_legend(archive: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(archive)) as found:
        assert found.testzip() is None
        assert found.namelist() == ["slope-2m.png", "slope-2m.pgw", "slope-2m.txt"]


def test_gdal_puts_the_picture_where_the_raster_lies(
    archive: bytes, hill_relay: Relay, its: Reach, tmp_path: Path
) -> None:
    """GDAL reads the world file beside a PNG; a row or a half pixel wrong would move the picture."""
    with zipfile.ZipFile(io.BytesIO(archive)) as found:
        found.extractall(tmp_path)
    raster = live.loss(live.question(hill_relay, receiver_height_m=1.5))
    with rasterio.open(tmp_path / "slope-2m.png") as picture:
        assert picture.shape == raster.loss_db.shape
        longitude, latitude = picture.xy(0, 0)
        assert (longitude, latitude) == pytest.approx((raster.lattice.west_deg, raster.lattice.north_deg))
        colours = picture.read()
    solid = its.classes(raster.loss_db) == 0
    assert solid.any()
    assert (np.moveaxis(colours, 0, -1)[solid] == exports.COLOURS[0]).all()


def test_what_is_not_known_is_grey_and_what_is_not_reached_is_clear() -> None:
    nothing = np.full((4, 5), exports.UNKNOWN, dtype=np.uint8)
    assert (exports.rgba(nothing)[:, 0, 0] == exports.UNKNOWN_COLOUR).all()
    nobody = np.full((4, 5), len(exports.COLOURS) - 1, dtype=np.uint8)
    assert not exports.rgba(nobody)[3].any()


def test_the_legend_says_it_in_words_with_units(archive: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(archive)) as found:
        legend = found.read("slope-2m.txt").decode()
    for words in (
        "Slope 2 m, QZ2SLP",
        "Relay antenna 18 m, receiver 1.5 m",
        "solid:",
        "dB)",
        "try it on the air",
    ):
        assert words in legend


def test_the_same_raster_makes_the_same_bytes(archive: bytes, hill_relay: Relay, its: Reach) -> None:
    raster = live.loss(live.question(hill_relay, receiver_height_m=1.5))
    words = exports.Words(hill_relay, "a handheld in the hand", "P.1812-8")
    assert exports.picture(raster, its, words) == archive
