"""manage.py import_terrain FILE...: take ground or land cover into the club's store."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

from relays.models import TerrainTile
from relays.rasters.refusal import RasterRefused
from relays.terrain_store import import_tile


class Command(BaseCommand):
    help = (
        "Import ground heights (GeoTIFF in any reference system, .hgt, zipped .hgt) or heights of trees and "
        "buildings (--kind cover). A file that cannot be used is refused with a sentence and changes nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("files", nargs="+", metavar="FILE", type=Path)
        parser.add_argument(
            "--kind",
            choices=TerrainTile.Kind.values,
            default=TerrainTile.Kind.GROUND.value,
            help="default: ground",
        )
        parser.add_argument("--source", default="", help="who made the file and where it came from")
        parser.add_argument("--datum", default="", help="its reference, where the file does not state it")
        parser.add_argument(
            "--classes",
            type=Path,
            metavar="TABLE",
            help="with --kind cover: a CSV file class,height_m for a raster of land-cover classes",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        refused = [path for path in options["files"] if not self._import(path, options)]
        if refused:
            done = len(options["files"]) - len(refused)
            raise CommandError(f"{len(refused)} refused, {done} imported or already there.")

    def _import(self, path: Path, options: dict[str, Any]) -> bool:
        console = Console(stderr=True)
        bar = Progress(
            TextColumn("{task.description}"),
            BarColumn(),
            TaskProgressColumn(),
            TimeRemainingColumn(),
            console=console,
            transient=True,
            disable=not console.is_terminal,
        )
        try:
            with bar:
                task = bar.add_task(path.name, total=1.0)
                report = import_tile(
                    path,
                    kind=options["kind"],
                    source=options["source"],
                    datum=options["datum"],
                    classes=options["classes"],
                    now=timezone.now(),
                    progress=lambda done: bar.update(task, completed=done),
                )
        except RasterRefused as refusal:
            self.stderr.write(refusal.sentence)
            return False
        self.stdout.write("\n".join(report.lines))
        return True
