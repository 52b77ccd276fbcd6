"""What a good file becomes: heights, rows and reports."""

from __future__ import annotations

import os
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import rasterio
from affine import Affine
from django.core.management import CommandError, call_command
from matplotlib import cbook

from relays import terrain_store
from relays.models import TerrainTile
from relays.rasters.refusal import RasterRefused
from relays.terrain_report import ImportReport
from tests.terrain.conftest import NOW
from tests.terrain.rasters import THREE_SECONDS, slope, write_geotiff, write_hgt, write_zip

# Heights are stored as float32, which holds those of the Earth to half a millimetre.
ONE_MILLIMETRE = 0.001
# GDAL warps by an approximate transformation, good to a hundredth of a post.
FIVE_CENTIMETRES = 0.05


def height(latitude: float, longitude: float) -> float | None:
    return terrain_store.current_ground().height_at(latitude, longitude)


@pytest.mark.parametrize(("row", "column"), [(0, 0), (0, 402), (343, 0), (343, 402), (17, 301)])
def test_the_demo_ground_has_every_post_where_the_original_file_puts_it(
    demo_ground: ImportReport, row: int, column: int
) -> None:
    with np.load(cbook.get_sample_data("jacksboro_fault_dem.npz", asfileobj=False)) as dem:
        north, west, step = dem["ymin"], dem["xmin"], dem["dx"]
        original = dem["elevation"][row, column]
    assert height(north - (row + 0.5) * step, west + (column + 0.5) * step) == pytest.approx(
        original, abs=0.01
    )


def test_the_demo_ground_says_what_is_not_known_of_it(demo_ground: ImportReport) -> None:
    tile = demo_ground.tile
    assert "vertical datum unknown" in tile.datum
    assert "states no source" in tile.source
    assert (tile.rows, tile.columns, tile.lowest_m, tile.highest_m) == (344, 403, 236.0, 1076.0)


def test_the_same_file_twice_is_already_there(take: Any, tmp_path: Path) -> None:
    path = write_geotiff(tmp_path / "a.tif", slope(20, 30))
    take(path)
    version = terrain_store.terrain_version()
    again = take(path)
    assert again.already_there
    assert "already there" in again.lines[0]
    assert TerrainTile.objects.count() == 1
    assert terrain_store.terrain_version() == version


def test_two_tiles_of_open_sea_are_two_though_their_bytes_are_the_same(take: Any, tmp_path: Path) -> None:
    for name in ("N36W085.hgt", "N36W084.hgt"):
        assert not take(write_hgt(tmp_path / name, np.zeros((1201, 1201)))).already_there
    assert height(36.5, -84.5) == height(36.5, -83.5) == 0.0
    lower_case = tmp_path / "again"
    lower_case.mkdir()
    assert take(write_hgt(lower_case / "n36w084.hgt", np.zeros((1201, 1201)))).already_there


def test_a_lost_copy_is_put_back_when_the_file_is_given_again(take: Any, tmp_path: Path, store: Path) -> None:
    path = write_geotiff(tmp_path / "a.tif", slope(20, 30))
    Path(take(path).tile.file.path).unlink()
    version = terrain_store.terrain_version()
    report = take(path, now=NOW + timedelta(hours=1))
    assert not report.already_there
    assert TerrainTile.objects.count() == 1
    assert terrain_store.terrain_version() != version
    assert height(35.99, -83.99) is not None


def test_nothing_but_the_tile_stays_in_the_store(take: Any, tmp_path: Path, store: Path) -> None:
    report = take(write_geotiff(tmp_path / "a.tif", slope(20, 30)))
    assert [entry.name for entry in store.iterdir()] == [Path(report.tile.file.name).name]


def test_a_zipped_tile_gives_the_same_ground_as_a_bare_one(take: Any, tmp_path: Path) -> None:
    heights = slope(1201, 1201, south=0.1, east=0.2)
    bare = write_hgt(tmp_path / "N36W085.hgt", heights)
    take(bare)
    expected = height(36.123, -84.456)
    TerrainTile.objects.all().delete()
    zipped = write_zip(tmp_path / "N36W085.hgt.zip", N36W085__hgt=bare.read_bytes(), readme__txt=b"hello")
    take(zipped)
    assert expected is not None
    assert height(36.123, -84.456) == expected


def test_an_hgt_post_stands_on_the_whole_degree(take: Any, tmp_path: Path) -> None:
    heights = slope(1201, 1201, south=0.5, east=0.25)
    take(write_hgt(tmp_path / "S34E018.hgt", heights))
    assert height(-33.0, 18.0) == int(heights[0, 0])
    assert height(-34.0, 18.0) == int(heights[-1, 0])
    assert height(-33.0, 19.0) == int(heights[0, -1])


def test_an_hgt_carries_the_datum_its_format_lays_down(take: Any, tmp_path: Path) -> None:
    report = take(write_hgt(tmp_path / "N36W085.hgt", slope(1201, 1201, south=0.1)), source="Survey")
    assert "EGM96" in report.tile.datum
    assert report.tile.source == "Survey"


@pytest.mark.parametrize("crs", ["EPSG:32617", "EPSG:26917", "EPSG:3857"])
def test_a_projected_raster_is_carried_to_latitude_and_longitude(take: Any, tmp_path: Path, crs: str) -> None:
    from_wgs84 = pyproj.Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    x, y = from_wgs84.transform(-81.2, 36.4)
    heights = slope(200, 300, south=0.3, east=0.2)
    report = take(write_geotiff(tmp_path / "a.tif", heights, crs=crs, transform=Affine(30, 0, x, 0, -30, y)))
    assert report.reprojected
    latitude, longitude = 36.38, -81.15
    x_there, y_there = from_wgs84.transform(longitude, latitude)
    expected = 300.0 + 0.3 * ((y - y_there) / 30 - 0.5) + 0.2 * ((x_there - x) / 30 - 0.5)
    assert height(latitude, longitude) == pytest.approx(expected, abs=FIVE_CENTIMETRES)


def test_a_raster_turned_askew_is_laid_straight(take: Any, tmp_path: Path) -> None:
    turned = Affine(0.0008, 0.0002, -84.0, 0.0002, -0.0008, 36.0)
    heights = slope(200, 300, south=0.3, east=0.2)
    take(write_geotiff(tmp_path / "a.tif", heights, transform=turned))
    longitude, latitude = (
        turned.a * 150.5 + turned.b * 100.5 - 84.0,
        turned.d * 150.5 + turned.e * 100.5 + 36.0,
    )
    assert height(latitude, longitude) == pytest.approx(float(heights[100, 150]), abs=FIVE_CENTIMETRES)


def test_heights_in_feet_become_metres(take: Any, tmp_path: Path) -> None:
    path = write_geotiff(tmp_path / "a.tif", slope(20, 30, base=1000.0))
    with rasterio.open(path, "r+") as raster:
        raster.units = ["ft"]
    # International foot: 0.3048 m exactly (agreement of 1959).
    assert take(path).tile.lowest_m == pytest.approx(304.8, abs=ONE_MILLIMETRE)


def test_heights_above_a_datum_in_feet_become_metres(take: Any, tmp_path: Path) -> None:
    report = take(write_geotiff(tmp_path / "a.tif", slope(20, 30, base=1000.0), crs="EPSG:4269+6360"))
    # US survey foot: 1200/3937 m (Federal Register notice 59-5442, 1959).
    assert report.tile.lowest_m == pytest.approx(1000 * 1200 / 3937, abs=ONE_MILLIMETRE)


def test_scaled_heights_are_unscaled(take: Any, tmp_path: Path) -> None:
    path = write_geotiff(tmp_path / "a.tif", slope(20, 30, base=1000.0).astype(np.int16))
    with rasterio.open(path, "r+") as raster:
        raster.scales, raster.offsets = [0.1], [50.0]
    assert take(path).tile.lowest_m == pytest.approx(150.0, abs=ONE_MILLIMETRE)


@pytest.mark.parametrize(
    ("crs", "words"),
    [
        ("EPSG:4326", "WGS 84; vertical datum unknown"),
        ("EPSG:4326+5773", "WGS 84; heights above EGM96 height"),
        ("EPSG:4269+5703", "NAD83; heights above NAVD88 height"),
        ("EPSG:4979", "WGS 84; heights above the ellipsoid, up to 100 m from sea level"),
    ],
)
def test_the_datum_is_recorded_as_far_as_the_file_states_it(
    take: Any, tmp_path: Path, crs: str, words: str
) -> None:
    assert take(write_geotiff(tmp_path / "a.tif", slope(20, 30), crs=crs)).tile.datum == words


def test_a_datum_and_a_source_can_be_given_in_words(take: Any, tmp_path: Path) -> None:
    tile = take(write_geotiff(tmp_path / "a.tif", slope(20, 30)), datum="NAVD88", source="County").tile
    assert (tile.datum, tile.source) == ("NAVD88", "County")
    other = take(write_geotiff(tmp_path / "b.tif", slope(20, 31))).tile
    assert other.source == "not stated"


@pytest.mark.parametrize(
    ("nodata", "mark"), [(-9999.0, -9999.0), (None, -32768.0), (None, np.nan), (None, np.inf)]
)
def test_small_voids_are_filled_from_around_them_and_counted(
    take: Any, tmp_path: Path, nodata: float | None, mark: float
) -> None:
    heights = slope(60, 80)
    heights[20:23, 30:34] = mark
    report = take(write_geotiff(tmp_path / "a.tif", heights, nodata=nodata))
    assert (report.tile.voids_filled, report.tile.voids_left) == (12, 0)
    assert any("12 voids (0.25 %) were filled" in line for line in report.lines)
    middle = height(36.0 - 21.5 * THREE_SECONDS, -84.0 + 31.5 * THREE_SECONDS)
    rim = slope(60, 80)[19:24, 29:35]
    assert middle is not None
    assert rim.min() < middle < rim.max()


@pytest.mark.parametrize("row", [254, 100])
def test_filling_does_not_depend_on_where_the_strips_are_cut(take: Any, tmp_path: Path, row: int) -> None:
    # Strips are 256 rows high: the hole of rows 254 to 257 lies across a cut, that of 100 to 103 does not.
    heights = np.full((520, 60), 100.0, dtype=np.float32)
    heights[:row] = 180.0
    heights[row : row + 4, 5:55] = np.nan
    take(write_geotiff(tmp_path / "a.tif", heights, north=36.0 + row * THREE_SECONDS))
    ground = terrain_store.current_ground().heights
    assert ground is not None
    found = ground.at(36.0 - (np.arange(4) + 0.5) * THREE_SECONDS, np.full(4, -84.0 + 30.5 * THREE_SECONDS))
    # By inverse distance from 180 m above and 100 m below, 1 and 4, 2 and 3, 3 and 2, 4 and 1 posts away; the
    # nearest in the four quadrants are a post aside for some, which moves the mean by a metre or two.
    assert found == pytest.approx([164.0, 148.0, 132.0, 116.0], abs=2.5)
    assert found[0] + found[3] == pytest.approx(280.0, abs=ONE_MILLIMETRE)
    assert found[1] + found[2] == pytest.approx(280.0, abs=ONE_MILLIMETRE)


def test_a_large_hole_is_left_open_and_counted(take: Any, tmp_path: Path) -> None:
    heights = slope(100, 100)
    heights[10:60, 10:60] = np.nan
    report = take(write_geotiff(tmp_path / "a.tif", heights))
    assert (report.tile.voids_filled, report.tile.voids_left) == (0, 2500)
    assert any("2,500 voids (25 %) were left open" in line for line in report.lines)
    assert height(36.0 - 35 * THREE_SECONDS, -84.0 + 35 * THREE_SECONDS) is None


def test_finer_ground_than_a_path_needs_is_thinned(take: Any, tmp_path: Path) -> None:
    x, y = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32617", always_xy=True).transform(-81.2, 36.4)
    heights = slope(400, 400, south=0.01, east=0.02)
    report = take(
        write_geotiff(tmp_path / "a.tif", heights, crs="EPSG:32617", transform=Affine(2, 0, x, 0, -2, y))
    )
    assert report.thinned
    assert (report.tile.north_deg - report.tile.south_deg) / report.tile.rows == pytest.approx(1 / 10800)


def test_classes_of_land_cover_become_heights(take: Any, tmp_path: Path) -> None:
    table = tmp_path / "table.csv"
    table.write_text("class,height_m\n41,18\n11,0\n")
    cover = np.full((20, 20), 41, dtype=np.uint8)
    cover[:, 10:] = 11
    take(write_geotiff(tmp_path / "ground.tif", slope(20, 20)))
    report = take(write_geotiff(tmp_path / "cover.tif", cover), kind="cover", classes=table)
    assert (report.tile.lowest_m, report.tile.highest_m) == (0.0, 18.0)
    profile = terrain_store.profile_between(35.99, -83.9995, 35.99, -83.985)
    assert set(profile.clutter_m) == {18.0, 0.0}
    assert profile.clutter_m[0] == 18.0


def test_clutter_is_the_setting_where_no_cover_is_known(take: Any, tmp_path: Path, settings: Any) -> None:
    settings.PATH_CLUTTER_M = 7.5
    take(write_geotiff(tmp_path / "ground.tif", slope(20, 40)))
    take(write_geotiff(tmp_path / "cover.tif", np.full((20, 20), 12.0, dtype=np.float32)), kind="cover")
    profile = terrain_store.profile_between(35.99, -83.9995, 35.99, -83.97)
    assert profile.clutter_m[0] == 12.0
    assert profile.clutter_m[-1] == 7.5
    grid = terrain_store.grid_around(35.99, -83.985, 5.0)
    clutter = terrain_store.current_ground().clutter_over(grid)
    assert clutter.shape == grid.heights_m.shape
    assert set(np.unique(clutter)) == {np.float32(7.5), np.float32(12.0)}


def test_a_changed_table_of_classes_makes_a_new_tile_that_counts(take: Any, tmp_path: Path) -> None:
    take(write_geotiff(tmp_path / "ground.tif", slope(20, 20)))
    raster = write_geotiff(tmp_path / "cover.tif", np.full((20, 20), 41, dtype=np.uint8))
    for hour, tall in enumerate((18, 25)):
        table = tmp_path / "table.csv"
        table.write_text(f"class,height_m\n41,{tall}\n")
        take(raster, kind="cover", classes=table, now=NOW + timedelta(hours=hour))
    profile = terrain_store.profile_between(35.99, -83.9995, 35.99, -83.985)
    assert set(profile.clutter_m) == {25.0}


def test_progress_runs_from_the_start_to_the_end(take: Any, tmp_path: Path) -> None:
    told: list[float] = []
    take(write_geotiff(tmp_path / "a.tif", slope(600, 30)), progress=told.append)
    assert told == sorted(told)
    assert told[0] > 0.0
    assert told[-1] == pytest.approx(1.0)


def test_what_a_killed_import_left_is_cleared_a_day_later(take: Any, tmp_path: Path, store: Path) -> None:
    kept = Path(take(write_geotiff(tmp_path / "a.tif", slope(20, 30))).tile.file.path)
    orphan, scratch, recent = store / "orphan.tif", store / "incoming-x", store / "recent.tif"
    scratch.mkdir()
    for file in (orphan, recent, scratch / "plain.tif"):
        file.write_bytes(b"x")
    long_ago = (NOW - timedelta(days=2)).timestamp()
    for old in (orphan, scratch, kept):
        os.utime(old, (long_ago, long_ago))
    os.utime(recent, (NOW.timestamp(), NOW.timestamp()))
    take(write_geotiff(tmp_path / "b.tif", slope(20, 31)))
    assert not orphan.exists()
    assert not scratch.exists()
    assert kept.exists()
    assert recent.exists()


def test_the_command_reports_each_file_in_plain_sentences(store: Path, tmp_path: Path) -> None:
    out = StringIO()
    path = write_geotiff(tmp_path / "ridge.tif", slope(20, 30))
    call_command("import_terrain", str(path), "--source", "County survey", stdout=out)
    told = out.getvalue()
    assert "ridge.tif: ground height, 20 × 30 posts, one every 3 arc seconds (93 m)" in told
    assert "35.9833° N to 36.0000° N and 84.0000° W to 83.9750° W, 300 to 367 m." in told
    assert "Source: County survey." in told
    call_command("import_terrain", str(path), stdout=out)
    assert "already there, imported on" in out.getvalue()


def test_the_command_goes_on_after_a_refusal_and_then_fails(store: Path, tmp_path: Path) -> None:
    good = write_geotiff(tmp_path / "good.tif", slope(20, 30))
    err = StringIO()
    with pytest.raises(CommandError, match="1 refused, 1 imported"):
        call_command("import_terrain", str(tmp_path / "none.tif"), str(good), stdout=StringIO(), stderr=err)
    assert err.getvalue().strip() == "There is no file none.tif at the place given."
    assert TerrainTile.objects.count() == 1


def test_a_table_of_classes_is_refused_for_ground(take: Any, tmp_path: Path) -> None:
    table = tmp_path / "table.csv"
    table.write_text("class,height_m\n41,18\n")
    with pytest.raises(RasterRefused, match="--kind cover"):
        take(write_geotiff(tmp_path / "a.tif", slope(20, 30)), classes=table)
