"""What is not imported, and that a refusal or a kill leaves nothing behind."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from affine import Affine

from relays.models import PopulationRaster, TerrainTile
from relays.population import reading
from relays.population.report import PopulationReport
from relays.population.store import import_population
from relays.population.words import about, of_the_map
from relays.rasters.refusal import RasterRefused
from tests.conftest import NOW
from tests.terrain.rasters import write_geotiff

Take = Callable[..., PopulationReport]
SQUARE = np.full((4, 4), 10.0)


def refused(take: Take, *arguments: Any, **options: Any) -> str:
    with pytest.raises(RasterRefused) as caught:
        take(*arguments, **options)
    assert not PopulationRaster.objects.exists()
    return caught.value.sentence


def left_in(store: Path) -> list[str]:
    return sorted(entry.name for entry in store.iterdir()) if store.exists() else []


def test_people_below_nought_are_refused(people: Take, store: Path) -> None:
    said = refused(people, [[1, -9999], [2, 3]])
    assert "has -9,999 people in a cell" in said
    assert "nodata value" in said
    assert left_in(store) == []


def test_endless_people_are_refused(people: Take) -> None:
    assert "inf people" in refused(people, [[1, np.inf], [2, 3]])


def test_a_raster_of_nothing_is_refused(people: Take) -> None:
    assert "no figures at all" in refused(people, [[np.nan, np.nan], [np.nan, np.nan]])


def test_numbers_of_unknown_meaning_are_refused(people: Take) -> None:
    said = refused(people, SQUARE, given_as="")
    assert "--as count" in said
    assert "--as density" in said


def test_a_photograph_is_refused(take: Take, tmp_path: Path) -> None:
    path, picture = tmp_path / "me.tif", np.zeros((3, 20, 20), dtype=np.uint8)
    with rasterio.open(
        path, "w", driver="GTiff", count=3, height=20, width=20, dtype="uint8", crs="EPSG:4326",
        transform=Affine(0.01, 0, -84, 0, -0.01, 36),
    ) as raster:  # fmt: skip
        raster.write(picture)
    assert "3 bands, as pictures have" in refused(take, path)


def test_a_photograph_by_another_name_is_refused(take: Take, tmp_path: Path) -> None:
    (tmp_path / "me.tif").write_bytes(b"\xff\xd8\xff\xe0 a photograph")
    assert "is not a GeoTIFF" in refused(take, tmp_path / "me.tif")


def test_a_density_taken_for_a_count_is_refused(people: Take) -> None:
    """3,000 per km² in cells of 3 arc seconds, 0.007 km²: as a count that would be 400,000 per km²."""
    said = refused(people, np.full((5, 5), 3000.0))
    assert "more than 100,000 live hardly anywhere" in said
    assert "--as density" in said


def test_a_density_above_all_cities_is_refused_unless_vouched_for(people: Take) -> None:
    assert "--as count" in refused(people, np.full((5, 5), 200_000.0), given_as="density")
    assert people(np.full((5, 5), 200_000.0), given_as="density", is_dense=True).raster.pk


def test_a_count_taken_for_a_density_is_wondered_at(people: Take) -> None:
    report = people(np.full((5, 5), 0.3), given_as="density")
    assert any("hardly anybody" in line and "--as count" in line for line in report.lines)


def test_people_beside_the_terrain_are_refused(ground: TerrainTile, take: Take, tmp_path: Path) -> None:
    path = write_geotiff(tmp_path / "far.tif", SQUARE, west=10.0, north=50.0, step=0.01)
    said = refused(take, path)
    assert "lies beside the imported terrain" in said
    assert "50.00° N" in said


def test_people_on_the_terrain_are_welcome(ground: TerrainTile, take: Take, tmp_path: Path) -> None:
    west, north = ground.west_deg + 0.01, ground.north_deg - 0.01
    assert take(write_geotiff(tmp_path / "near.tif", SQUARE, west=west, north=north, step=0.01)).raster.pk


@pytest.mark.parametrize(
    ("crs", "said"),
    [(None, "does not say where on Earth it lies"), ("IAU_2015:30100", "not of this Earth")],
)
def test_people_of_no_place_are_refused(people: Take, crs: str | None, said: str) -> None:
    assert said in refused(people, SQUARE, crs=crs)


def test_too_large_a_map_grid_is_refused(people: Take, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "MOST_MOVED", 10)
    place = {"crs": "EPSG:32617", "transform": Affine(250, 0, 230_000, 0, -250, 3_990_000)}
    assert "cut out the part around the relays" in refused(people, SQUARE, **place)


def test_a_disk_that_fills_up_leaves_nothing(
    people: Take, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: Any, **__: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(reading, "rewrite", full)
    assert "is the disk full?" in refused(people, SQUARE)
    assert left_in(store) == []


def test_a_row_that_cannot_be_saved_leaves_no_file(
    people: Take, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(PopulationRaster, "save", lambda self: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        people(SQUARE)
    assert left_in(store) == []


def test_what_a_kill_left_is_cleared_a_day_later(people: Take, store: Path) -> None:
    """Made by hand: a scratch folder with half a file, and a file without its row."""
    (store / "incoming-gone").mkdir(parents=True)
    (store / "incoming-gone" / "people.tif").write_bytes(b"half")
    (store / "orphan.tif").write_bytes(b"whole, but no row was committed")
    for name in ("incoming-gone", "orphan.tif"):
        os.utime(store / name, (NOW.timestamp() - 2 * 86_400,) * 2)
    row = people(SQUARE).raster
    assert left_in(store) == [Path(str(row.file.name)).name]


def test_a_kill_while_it_is_read_shows_nothing(store: Path, tmp_path: Path) -> None:
    class Killed(BaseException):
        pass

    def kill(done: float) -> None:
        raise Killed

    path = write_geotiff(tmp_path / "a.tif", SQUARE, step=0.01)
    with pytest.raises(Killed):
        import_population(path, given_as="count", now=NOW, progress=kill)
    assert not PopulationRaster.objects.exists()
    assert [name for name in left_in(store) if name.endswith(".tif")] == []


def test_numbers_of_people_claim_no_more_than_is_known() -> None:
    assert [about(n) for n in (0.0, 0.4, 3.2, 347.0, 999.9, 12_437.0)] == [
        "nobody",
        "nobody",
        "fewer than 10 people",
        "about 350 people",
        "about 1,000 people",
        "about 12,400 people",
    ]
    assert of_the_map(12_437.0, 31_012.0) == "about 12,400 people, of the 31,000 on the map"
    assert of_the_map(0.0, 0.0) == "nobody lives on the map"


def test_people_off_the_globe_are_refused(people: Take) -> None:
    """In the corner of a Mollweide map there is no Earth; a figure there belongs nowhere."""
    corner = Affine(1000, 0, -17_000_000, 0, -1000, 8_500_000)
    assert "off the globe" in refused(people, SQUARE, crs="ESRI:54009", transform=corner)
