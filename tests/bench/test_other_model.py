"""The comparison with another library in bench_coverage; small, so that it always runs."""

from __future__ import annotations

from relays import coverage_bench, other_model
from relays.propagation import raster

RADIUS_POSTS = 60


def test_the_other_model_is_asked_about_the_same_pixels() -> None:
    assert other_model.IS_INSTALLED
    ground = coverage_bench.mirrored_ground(RADIUS_POSTS)
    coverage = raster.cover(ground, coverage_bench.request_over(ground, RADIUS_POSTS), threads=1)
    found = coverage_bench.compare_with_other_model(ground, RADIUS_POSTS, coverage, 20)
    assert found is not None
    assert found.pixels > 10
    # Another model over mountains: some decibels apart, not tens (see tests/propagation/test_against_itm_published.py).
    assert abs(found.median_db) < 12.0
