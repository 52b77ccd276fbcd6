"""Importing people: who is in the file is who is in the store."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from pyproj import Geod

from relays import demo_population
from relays.models import PopulationRaster
from relays.population import counting, reading
from relays.population.report import PopulationReport
from relays.propagation.terrain import Lattice
from tests.conftest import NOW
from tests.terrain.rasters import write_geotiff

Take = Callable[..., PopulationReport]
# A map over everything that the tests import around 84 W, 36 N.
WIDE = Lattice(37.0, -85.0, 0.01, 0.01, 200, 300)


def stored(row: PopulationRaster) -> Any:
    with rasterio.open(default_storage.path(str(row.file.name))) as dataset:
        return dataset.read(1)


def crowd(rows: int = 40, columns: int = 30) -> Any:
    return np.random.default_rng(7).gamma(0.4, 30.0, (rows, columns))


def test_counts_on_latitude_and_longitude_are_kept_cell_by_cell(people: Take) -> None:
    row = people(crowd(), step=0.004).raster
    assert np.array_equal(stored(row), crowd())
    assert row.people == pytest.approx(crowd().sum(), rel=1e-14)


def test_the_total_of_the_file_is_the_total_on_the_map(people: Take) -> None:
    people(crowd(), step=0.004)
    assert counting.current().on(WIDE).sum(dtype=np.float64) == pytest.approx(crowd().sum(), rel=1e-6)


@pytest.mark.parametrize(
    ("crs", "transform"),
    [
        ("EPSG:32617", Affine(250, 0, 230_000, 0, -250, 3_990_000)),
        ("ESRI:54009", Affine(1000, 0, -7_700_000, 0, -1000, 4_330_000)),
        ("EPSG:32617", Affine(200, 80, 230_000, 80, -200, 3_990_000)),
    ],
    ids=["UTM", "Mollweide", "turned"],
)
def test_a_raster_on_a_map_grid_loses_nobody(people: Take, crs: str, transform: Affine) -> None:
    report = people(crowd(), crs=crs, transform=transform)
    assert report.moved
    assert np.nansum(stored(report.raster)) == pytest.approx(crowd().sum(), rel=1e-12)
    assert report.raster.people == pytest.approx(crowd().sum(), rel=1e-12)


def test_people_of_a_map_grid_stay_where_they_live(people: Take) -> None:
    """One full cell of 1 km in UTM zone 17, its middle by PROJ: the mean place is within an eighth of a cell."""
    counts = np.zeros((9, 9))
    counts[2, 6] = 1000.0
    row = people(counts, crs="EPSG:32617", transform=Affine(1000, 0, 230_000, 0, -1000, 3_990_000)).raster
    longitude, latitude = reading.Transformer.from_crs("EPSG:32617", "EPSG:4326", always_xy=True).transform(
        236_500, 3_987_500
    )
    found = counting.current().on(WIDE).astype(np.float64)
    mean = (found.sum(axis=1) @ WIDE.latitude_deg, found.sum(axis=0) @ WIDE.longitude_deg)
    away_m = Geod(ellps="WGS84").inv(longitude, latitude, mean[1] / 1000.0, mean[0] / 1000.0)[2]
    assert row.people == pytest.approx(1000.0)
    assert away_m < 125.0


def test_a_density_counts_for_its_area(people: Take) -> None:
    """100 people per km² on a square of a tenth of a degree, whose area PROJ knows."""
    row = people(np.full((10, 10), 100.0), step=0.01, given_as="density").raster
    square = Geod(ellps="WGS84").polygon_area_perimeter(
        [*np.linspace(-84, -83.9, 50), *np.linspace(-83.9, -84, 50)], [36.0] * 50 + [35.9] * 50
    )[0]
    assert row.people == pytest.approx(100.0 * abs(square) / 1e6, rel=1e-6)
    assert row.densest_per_km2 == pytest.approx(100.0)


def test_a_density_on_a_map_grid_counts_for_the_ground_under_it(people: Take) -> None:
    """EASE-Grid 2.0 (Brodzik et al. 2012, EPSG:6933) keeps areas on the ellipsoid: 20 x 20 cells of 1 km²."""
    grid = Affine(1000, 0, -8_100_000, 0, -1000, 4_330_000)
    row = people(np.full((20, 20), 50.0), crs="EPSG:6933", transform=grid, given_as="density").raster
    assert row.people == pytest.approx(50.0 * 400, rel=1e-6)


def test_a_file_may_say_itself_what_its_numbers_are(take: Take, tmp_path: Path) -> None:
    path = write_geotiff(tmp_path / "a.tif", np.full((3, 3), 7.0), step=0.01)
    with rasterio.open(path, "r+") as raster:
        raster.units = ["people/km²"]
    assert take(path, "").raster.given_as == "density"


def test_cells_without_a_figure_have_nobody(people: Take) -> None:
    report = people([[5, -200, 3], [np.nan, 2, 1]], step=0.01, nodata=-200)
    assert (report.raster.people, report.raster.cells_without) == (11.0, 2)
    assert counting.current().on(WIDE).sum() == pytest.approx(11.0, rel=1e-6)


def test_the_same_file_twice_is_there_once(people: Take) -> None:
    people(crowd())
    again = people(crowd(), now=NOW + timedelta(days=1))
    assert again.already_there
    assert PopulationRaster.objects.get().imported_at == NOW
    assert "already there" in again.lines[0]


def test_the_same_file_read_the_other_way_takes_its_place(people: Take) -> None:
    people(np.full((4, 4), 40.0))
    again = people(np.full((4, 4), 40.0), given_as="density")
    assert again.read_anew
    assert PopulationRaster.objects.get().given_as == "density"
    assert counting.current().on(WIDE).sum() == pytest.approx(again.raster.people, rel=1e-6)


def test_a_lost_file_is_put_back(people: Take) -> None:
    row = people(crowd()).raster
    Path(default_storage.path(str(row.file.name))).unlink()
    with pytest.raises(counting.PopulationLost, match=r"import people\.tif again"):
        counting.current().on(WIDE)
    assert not people(crowd()).already_there
    assert counting.current().on(WIDE).sum(dtype=np.float64) == pytest.approx(crowd().sum(), rel=1e-6)


def test_a_newer_raster_counts_where_two_overlap(people: Take) -> None:
    people(np.full((10, 10), 5.0), step=0.01)
    people(np.full((10, 5), 7.0), name="newer.tif", step=0.01, now=NOW + timedelta(days=1))
    assert counting.current().on(WIDE).sum() == pytest.approx(50 * 7.0 + 50 * 5.0, rel=1e-6)


def test_countries_in_files_of_their_own_add_up(people: Take) -> None:
    """Both files hold the same square; each knows one side of the border only."""
    west, east = np.full((6, 6), 4.0), np.full((6, 6), 9.0)
    west[:, 3:], east[:, :3] = np.nan, np.nan
    people(west, name="west.tif", step=0.01)
    people(east, name="east.tif", step=0.01, now=NOW + timedelta(days=1))
    assert counting.current().on(WIDE).sum() == pytest.approx(18 * 4.0 + 18 * 9.0, rel=1e-6)


def test_the_demo_has_invented_people(store: Path) -> None:
    row = demo_population.import_demo_population(now=NOW).raster
    assert row.people == pytest.approx(float(demo_population.counts().sum()))
    assert "invented" in row.source
    assert row.people > sum(village.people for village in demo_population.VILLAGES)


def test_the_command_says_how_many_live_there(store: Path, tmp_path: Path) -> None:
    path = write_geotiff(tmp_path / "a.tif", np.full((10, 10), 124.37), step=0.01)
    said = StringIO()
    call_command("import_population", path, given_as="count", source="a census of nowhere", stdout=said)
    assert "a.tif: about 12,400 people in 10 × 10 cells" in said.getvalue()
    assert "a census of nowhere" in said.getvalue()


def test_the_command_goes_on_after_a_refusal(store: Path, tmp_path: Path) -> None:
    good = write_geotiff(tmp_path / "good.tif", np.full((3, 3), 1.0), step=0.01)
    with pytest.raises(CommandError, match="1 refused, 1 imported"):
        call_command("import_population", tmp_path / "none.tif", good, given_as="count", stderr=StringIO())
    assert PopulationRaster.objects.get().name == "good.tif"
