"""Files that cannot be used: one sentence each, and nothing changed."""

from __future__ import annotations

import errno
import resource
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from django.db import OperationalError
from rasterio.errors import NotGeoreferencedWarning

from relays import terrain_store
from relays.models import TerrainTile
from relays.rasters.refusal import RasterRefused
from tests.terrain.rasters import slope, write_geotiff, write_hgt, write_zip

DEGREES = Affine(0.001, 0, -84, 0, -0.001, 36)
METRES = Affine(30, 0, 500_000, 0, -30, 4_000_000)
MOON_METRES = "+proj=tmerc +lat_0=0 +lon_0=0 +R=1737400 +units=m +no_defs"
LOCAL = 'LOCAL_CS["site grid",UNIT["metre",1],AXIS["x",EAST],AXIS["y",NORTH]]'
TILE = b"\0\0" * 1201 * 1201


def cut_short(folder: Path) -> Path:
    path = write_geotiff(folder / "a.tif", slope(300, 300))
    path.write_bytes(path.read_bytes()[:200_000])
    return path


def damaged_inside(folder: Path) -> Path:
    noise = np.random.default_rng(7).normal(300, 50, (300, 300)).astype(np.float32)
    path = write_geotiff(folder / "a.tif", noise, compress="deflate")
    content = bytearray(path.read_bytes())
    content[150_000:150_400] = bytes(400)
    path.write_bytes(content)
    return path


def text(folder: Path) -> Path:
    path = folder / "a.tif"
    path.write_text("These are not heights.")
    return path


def empty(folder: Path) -> Path:
    (folder / "a.tif").touch()
    return folder / "a.tif"


def elsewhere_named(folder: Path) -> Path:
    """A format that names another file to be read: never followed."""
    write_geotiff(folder / "secret.tif", slope(20, 30))
    path = folder / "a.tif"
    path.write_text(
        '<VRTDataset rasterXSize="30" rasterYSize="20"><VRTRasterBand dataType="Float32" band="1">'
        f"<SimpleSource><SourceFilename>{folder / 'secret.tif'}</SourceFilename></SimpleSource>"
        "</VRTRasterBand></VRTDataset>"
    )
    return path


def picture(folder: Path) -> Path:
    path = folder / "a.tif"
    place = {"crs": "EPSG:4326", "transform": Affine(0.001, 0, -84, 0, -0.001, 36)}
    with rasterio.open(
        path, "w", driver="GTiff", dtype="uint8", count=3, width=5, height=5, **place
    ) as raster:
        raster.write(np.zeros((3, 5, 5), dtype=np.uint8))
    return path


def mostly_void(folder: Path) -> Path:
    heights = slope(100, 100)
    heights[:, :60] = -9999.0
    return write_geotiff(folder / "a.tif", heights, nodata=-9999.0)


def all_void(folder: Path) -> Path:
    return write_hgt(folder / "N36W085.hgt", np.full((1201, 1201), -32768))


def one_peak(height_m: float) -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        heights = slope(100, 100)
        heights[70, 30] = height_m
        return write_geotiff(folder / "a.tif", heights)

    return make


def unplaced(folder: Path) -> Path:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        return write_geotiff(folder / "a.tif", slope(20, 30), transform=Affine.identity())


def tile(name: str, rows: int = 1201, columns: int = 1201) -> Callable[[Path], Path]:
    return lambda folder: write_hgt(folder / name, np.zeros((rows, columns)))


def lies(crs: str | None, transform: Affine) -> Callable[[Path], Path]:
    return lambda folder: write_geotiff(folder / "a.tif", slope(20, 30), crs=crs, transform=transform)


def in_furlongs(folder: Path) -> Path:
    path = write_geotiff(folder / "a.tif", slope(20, 30))
    with rasterio.open(path, "r+") as raster:
        raster.units = ["furlong"]
    return path


def zipped(name: str, content: bytes) -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        with zipfile.ZipFile(folder / "a.hgt.zip", "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(name, content)
        return folder / "a.hgt.zip"

    return make


def zipped_twice(folder: Path) -> Path:
    return write_zip(folder / "a.zip", N36W085__hgt=TILE, N36W084__hgt=TILE)


def zip_that_lies_about_its_size(folder: Path) -> Path:
    """Its directory promises one tile; its stream holds three times as much, as a bomb would."""
    path = write_zip(folder / "a.zip", N36W085__hgt=TILE * 3)
    content = path.read_bytes()
    true, told = (3 * len(TILE)).to_bytes(4, "little"), len(TILE).to_bytes(4, "little")
    assert content.count(true) == 2
    path.write_bytes(content.replace(true, told))
    return path


def spoilt_zip(folder: Path) -> Path:
    noise = np.random.default_rng(7).integers(0, 255, len(TILE), dtype=np.uint8).tobytes()
    path = write_zip(folder / "a.zip", N36W085__hgt=noise)
    content = bytearray(path.read_bytes())
    content[90_000:90_100] = bytes(100)
    path.write_bytes(content)
    return path


def not_a_zip(folder: Path) -> Path:
    (folder / "a.hgt.zip").write_bytes(b"PK\x03\x04 and then nothing")
    return folder / "a.hgt.zip"


CASES: list[tuple[str, Callable[[Path], Path], str]] = [
    ("missing", lambda folder: folder / "none.tif", "There is no file none.tif at the place given."),
    ("address", lambda folder: Path("/vsicurl/http:/maps.example/a.tif"), "There is no file a.tif"),
    ("folder", lambda folder: folder, "is a folder; name the files in it."),
    ("device", lambda folder: Path("/dev/null"), "null is not an ordinary file."),
    ("empty", empty, "a.tif is empty."),
    ("text", text, "is not a GeoTIFF, a .hgt file or a zipped .hgt file, or it is damaged."),
    ("names another file", elsewhere_named, "is not a GeoTIFF"),
    ("cut short", cut_short, "cannot be read between rows 0 and 256: it is cut short or damaged"),
    ("damaged inside", damaged_inside, "where a checksum is wrong"),
    ("picture", picture, "a.tif has 3 bands, as pictures have"),
    ("no reference system", lies(None, DEGREES), "does not say where on Earth it lies"),
    ("no georeference", unplaced, "does not say where its corners lie"),
    ("local grid", lies(LOCAL, METRES), "local system"),
    ("moon", lies("IAU_2015:30100", DEGREES), "not of this Earth"),
    ("moon, projected", lies(MOON_METRES, METRES), "radius of 1,737 km, the Earth 6,378 km"),
    ("mars", lies("IAU_2015:49900", DEGREES), "radius of 3,396 km"),
    ("metres called degrees", lies("EPSG:4326", METRES), "off the globe"),
    ("beyond the pole", lies("EPSG:4326", Affine(0.001, 0, 10, 0, -0.001, 91)), "off the globe"),
    ("across 180 degrees", lies("EPSG:32660", Affine(30, 0, 833_700, 0, -30, 10_000)), "180 degree meridian"),
    ("too coarse", lies("EPSG:4326", Affine(0.05, 0, 10, 0, -0.05, 50)), "a height every 3.6 km only"),
    ("all void", all_void, "holds no heights at all: 100 % of it is void."),
    ("too void", mostly_void, "a.tif is 60.0 % void; at most 50 % may be missing."),
    ("too high", one_peak(9001.0), "heights such as 9,001 m, outside -500 to 9,000 m"),
    ("too low", one_peak(-501.0), "heights such as -501 m"),
    ("undeclared void mark", one_peak(-9999.0), "must declare it as its nodata value"),
    ("odd unit", in_furlongs, "'furlong'; metres or feet can be read."),
    ("misnamed", lambda folder: write_hgt(folder / "ridge.hgt", np.zeros((1201, 1201))), "is not named as"),
    (
        "off the globe",
        lambda folder: write_hgt(folder / "N36W185.hgt", np.zeros((1201, 1201))),
        "not named as",
    ),
    (
        "wrong size",
        lambda folder: write_hgt(folder / "N36W085.hgt", np.zeros((1201, 1200))),
        "2,882,400 bytes",
    ),
    ("zip without", zipped("heights.txt", b"1 2 3"), "holds no .hgt file"),
    ("zip misnamed", zipped("ridge.hgt", TILE), "ridge.hgt, inside a.hgt.zip, is not named as"),
    ("zip wrong size", zipped("N36W085.hgt", TILE[:-2]), "N36W085.hgt, inside a.hgt.zip, is 2,884,800 bytes"),
    ("zip of two", zipped_twice, "holds 2 .hgt files"),
    ("zip climbing out", zipped("../N36W085.hgt", TILE), "outside its own folder"),
    ("zip from the root", zipped("/etc/N36W085.hgt", TILE), "outside its own folder"),
    ("zip climbing backwards", zipped("..\\N36W085.hgt", TILE), "outside its own folder"),
    ("zip bomb", zip_that_lies_about_its_size, "damaged zip file"),
    ("zip spoilt", spoilt_zip, "damaged zip file"),
    ("not a zip", not_a_zip, "damaged zip file"),
]


@pytest.fixture
def nothing_changed(store: Path, tmp_path: Path, take: Any) -> Any:
    """A store with one good tile in it, and the check that it still is the only thing there."""
    take(write_geotiff(tmp_path / "before.tif", slope(20, 30), west=10.0, north=50.0))
    version, files = terrain_store.terrain_version(), sorted(store.rglob("*"))

    def check() -> None:
        assert terrain_store.terrain_version() == version
        assert sorted(store.rglob("*")) == files
        assert TerrainTile.objects.count() == 1

    return check


@pytest.mark.parametrize(("make", "words"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_it_refuses_with_one_sentence_and_changes_nothing(
    make: Callable[[Path], Path], words: str, tmp_path: Path, take: Any, nothing_changed: Any
) -> None:
    folder = tmp_path / "given"
    folder.mkdir()
    path = make(folder)
    with pytest.raises(RasterRefused) as refusal:
        take(path)
    assert words in refusal.value.sentence
    assert refusal.value.sentence.endswith(".")
    assert "\n" not in refusal.value.sentence
    assert str(folder) not in refusal.value.sentence
    nothing_changed()


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("41,18\n", "must begin with the line class,height_m."),
        ("class,height_m\n", "lists no classes"),
        ("class,height_m\n41,tall\n", "line 2: write a whole class number and a height"),
        ("class,height_m\n41,18\n42,-3\n", "line 3: write a whole class number and a height of 0 to 200 m"),
        ("class,height_m\n41,18\n41,20\n", "line 3: class 41 is already given"),
        ("class,height_m\n41,18,9\n", "line 2"),
        ("class,height_m\n42,18\n", "holds classes that table.csv does not list: 41; add a line for each."),
    ],
)
def test_it_refuses_a_table_of_classes_that_does_not_fit(
    table: str, words: str, tmp_path: Path, take: Any, nothing_changed: Any
) -> None:
    (tmp_path / "table.csv").write_text(table)
    cover = write_geotiff(tmp_path / "a.tif", np.full((20, 30), 41, dtype=np.uint8))
    with pytest.raises(RasterRefused, match=words.replace(".", r"\.")):
        take(cover, kind="cover", classes=tmp_path / "table.csv")
    nothing_changed()


def test_cover_taller_than_anything_that_stands_is_refused(tmp_path: Path, take: Any) -> None:
    with pytest.raises(RasterRefused, match="outside 0 to 200 m"):
        take(write_geotiff(tmp_path / "a.tif", slope(20, 30)), kind="cover")


def test_a_full_disk_is_told_and_leaves_nothing(tmp_path: Path, take: Any, nothing_changed: Any) -> None:
    noise = np.random.default_rng(7).normal(300, 50, (800, 800)).astype(np.float32)
    path = write_geotiff(tmp_path / "a.tif", noise)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, hard))
    try:
        with pytest.raises(RasterRefused, match="is the disk full"):
            take(path)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    nothing_changed()


def test_a_row_that_cannot_be_saved_takes_its_file_with_it(
    tmp_path: Path, take: Any, nothing_changed: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: Any, **kwargs: Any) -> None:
        raise OperationalError("database is locked")

    monkeypatch.setattr(TerrainTile, "save", fail)
    with pytest.raises(OperationalError):
        take(write_geotiff(tmp_path / "a.tif", slope(20, 30)))
    nothing_changed()


def test_a_file_that_cannot_be_moved_leaves_no_row(
    tmp_path: Path, take: Any, nothing_changed: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(OSError, match="No space left"):
        take(write_geotiff(tmp_path / "a.tif", slope(20, 30)))
    nothing_changed()


def test_an_import_interrupted_half_way_leaves_nothing(
    tmp_path: Path, take: Any, nothing_changed: Any
) -> None:
    def interrupt(done: float) -> None:
        if done > 0.7:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        take(write_geotiff(tmp_path / "a.tif", slope(600, 30)), progress=interrupt)
    nothing_changed()


def test_two_who_import_the_same_file_at_once_make_one_tile(tmp_path: Path, take: Any, store: Path) -> None:
    path = write_geotiff(tmp_path / "a.tif", slope(600, 30))
    inner: list[Any] = []

    def meanwhile(done: float) -> None:
        if not inner:
            inner.append("begun")
            inner.append(take(path))

    outer = take(path, progress=meanwhile)
    assert not inner[1].already_there
    assert outer.already_there
    assert TerrainTile.objects.count() == 1
    assert [entry.name for entry in store.iterdir()] == [Path(inner[1].tile.file.name).name]
