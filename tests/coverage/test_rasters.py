"""The stored raster: what is written comes back, and other programs can read it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio

from relays.coverage import rasters, sweeps
from relays.coverage.inputs import inputs_of
from relays.models import CoverageRun, Relay
from relays.terrain_store import terrain_version

# Half a step of the file, and the rounding of a 32-bit float.
HALF_A_STEP_DB = rasters.STEP_DB / 2 + 1e-5


def test_every_height_comes_back_to_half_a_hundredth(done_run: CoverageRun, hill_relay: Relay) -> None:
    coverage = sweeps.sweep(sweeps.prepare(done_run.inputs, most_posts=10**6))
    for band, height_m in enumerate(done_run.receiver_heights_m):
        read = rasters.read(Path(done_run.raster.path), height_m)
        same = np.abs(read.loss_db - coverage.loss_db[band])
        assert np.nanmax(same) <= HALF_A_STEP_DB
        assert np.array_equal(np.isnan(read.loss_db), np.isnan(coverage.loss_db[band]))
        assert read.lattice == coverage.lattice


def test_the_figures_of_the_run_come_back(done_run: CoverageRun) -> None:
    read = rasters.read(Path(done_run.raster.path), 10.0)
    assert (read.antenna_height_m, read.receiver_height_m, read.frequency_mhz) == (18.0, 10.0, 146.43)
    assert read.radius_km == done_run.radius_km
    assert read.spacing_m == pytest.approx(done_run.spacing_m, abs=0.001)
    assert "The imported ground ends" in read.end_sentence


def test_it_is_a_cloud_optimized_geotiff(done_run: CoverageRun) -> None:
    """GDAL, GeoTIFF driver documentation: the LAYOUT=COG entry of the IMAGE_STRUCTURE metadata."""
    with rasterio.open(done_run.raster.path) as file:
        assert file.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert file.crs.to_epsg() == 4326
        assert file.scales == (0.01,) * 6
        assert file.units == ("dB",) * 3 + ("degree",) * 3
        assert file.nodata == rasters.NOT_KNOWN
        assert file.descriptions[0] == "median loss to a receiver at 1.5 m, dB"
        assert file.descriptions[3] == "elevation of the horizon at 1.5 m, degrees"


def test_the_least_loss_lies_under_the_relay(done_run: CoverageRun, hill_relay: Relay) -> None:
    """Read by its georeference alone: an axis swapped or a row order turned would move it."""
    with rasterio.open(done_run.raster.path) as file:
        values = file.read(1, masked=True)
        row, column = np.unravel_index(values.argmin(), values.shape)
        longitude, latitude = file.xy(row, column)
    assert longitude == pytest.approx(hill_relay.site.longitude_deg, abs=2 / 1200)
    assert latitude == pytest.approx(hill_relay.site.latitude_deg, abs=2 / 1200)


def test_a_higher_antenna_is_rarely_worse(done_run: CoverageRun) -> None:
    low, high = (rasters.read(Path(done_run.raster.path), height_m).loss_db for height_m in (1.5, 10.0))
    known = ~np.isnan(low)
    assert np.median(low[known] - high[known]) > 3
    assert (high[known] > low[known] + 1).mean() < 0.02


@pytest.mark.parametrize("damage", ["gone", "cut", "not a raster"])
def test_a_file_that_cannot_be_read_is_named(damage: str, done_run: CoverageRun, tmp_path: Path) -> None:
    path = tmp_path / "x.tif"
    whole = Path(done_run.raster.path).read_bytes()
    if damage != "gone":
        path.write_bytes(whole[:300] if damage == "cut" else b"no raster")
    with pytest.raises(rasters.RasterLost, match="cannot be read any more"):
        rasters.read(path, 1.5)


def test_a_height_that_is_not_in_the_file_is_named(done_run: CoverageRun) -> None:
    with pytest.raises(rasters.RasterLost):
        rasters.read(Path(done_run.raster.path), 7.0)


def test_inputs_name_everything_but_what_is_subtracted(hill_relay: Relay) -> None:
    inputs = inputs_of(hill_relay, terrain_version())
    assert not {"power_w", "antenna_gain_dbi", "sensitivity_uv"} & set(inputs)
