"""manage.py bench_coverage: how fast and how exact coverage is on this machine."""

from __future__ import annotations

from argparse import ArgumentParser
from multiprocessing import cpu_count
from typing import Any

from django.core.management.base import BaseCommand

from relays import coverage_bench
from relays.propagation.terrain import ElevationGrid


class Command(BaseCommand):
    help = (
        "Compute the coverage raster of one relay on the demo ground mirrored to size, time its stages, and compare "
        "pixels with the path calculation itself. Times are the best of several runs, compiled beforehand."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--radius",
            type=int,
            default=480,
            metavar="POSTS",
            help="of the circle, north to south; default 480",
        )
        parser.add_argument("--threads", type=int, default=cpu_count(), help="default: one a processor")
        parser.add_argument("--repeat", type=int, default=5, help="default 5")
        parser.add_argument("--pixels", type=int, default=1000, help="compared with the path calculation")

    def handle(self, *args: Any, **options: Any) -> None:
        radius = options["radius"]
        ground = coverage_bench.mirrored_ground(radius)
        before = coverage_bench.peak_memory_mb()
        timing = None
        for timing in coverage_bench.time_rasters(ground, radius, options["threads"], options["repeat"]):
            self._say_raster(timing)
        assert timing is not None
        peak = coverage_bench.peak_memory_mb()
        self.stdout.write(f"Most memory held: {peak:.0f} MB, of it {before:.0f} MB before the first raster.")
        self._say_flatness(ground, options["repeat"])
        self._say_comparison(ground, radius, timing, options["pixels"])

    def _say_raster(self, timing: coverage_bench.RasterTiming) -> None:
        divided, seconds = timing.coverage.resolution, timing.coverage.seconds
        self.stdout.write(
            f"{timing.label}: {divided.radial_count} radials x {divided.samples} samples of "
            f"{1000.0 * divided.spacing_km:.0f} m, {timing.pixels} pixels: {timing.wall_s:.2f} s on "
            f"{timing.threads} threads\n"
            f"    processor time: ground {seconds['ground']:.2f} s, sweep {seconds['sweep']:.2f} s "
            f"({timing.sweep_ns_per_sample:.0f} ns a sample), pixels {seconds['pixels']:.2f} s"
        )

    def _say_flatness(self, ground: ElevationGrid, repeat: int) -> None:
        for samples in (300, 1000, 3000):
            spent = coverage_bench.time_radials(ground, samples, repeat)
            self.stdout.write(f"radial of {samples} samples, every one a receiver: {spent:.0f} ns a sample")

    def _say_comparison(
        self, ground: ElevationGrid, radius: int, timing: coverage_bench.RasterTiming, pixels: int
    ) -> None:
        found = coverage_bench.compare_with_predict(ground, radius, timing.coverage, pixels)
        alone_min = found.predict_s_per_pixel * timing.pixels / 60.0
        self.stdout.write(
            f"{found.pixels} pixels computed alone: {1000.0 * found.predict_s_per_pixel:.2f} ms each, "
            f"{alone_min:.0f} min for all {timing.pixels}; the raster differs by {found.median_db:.2f} dB (median), "
            f"95 % by less than {found.within_95_db:.2f} dB, {found.mean_db:+.2f} dB on average"
        )
        other = coverage_bench.compare_with_other_model(ground, radius, timing.coverage, min(pixels, 100))
        if other is None:
            self.stdout.write("The other library (itmlogic, of the dev extra) is not installed.")
            return
        self.stdout.write(
            f"{other.pixels} pixels by itmlogic, another model in pure Python: {1000.0 * other.s_per_pixel:.2f} ms "
            f"each at a sample a post, {other.s_per_pixel * timing.pixels / 60.0:.0f} min for all; P.1812 differs by "
            f"{other.median_db:+.1f} dB (median)"
        )
