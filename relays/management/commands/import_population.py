"""manage.py import_population FILE...: take people into the club's store."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from relays.models import PopulationRaster
from relays.population.store import import_population
from relays.rasters.refusal import RasterRefused


class Command(BaseCommand):
    help = (
        "Import where people live (a GeoTIFF in any reference system), so that coverage is counted in people too. "
        "A file that cannot be used is refused with a sentence and changes nothing."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("files", nargs="+", metavar="FILE", type=Path)
        parser.add_argument(
            "--as",
            dest="given_as",
            choices=PopulationRaster.GivenAs.values,
            default="",
            help="count: people in each cell; density: people per km²; needed where the file does not say",
        )
        parser.add_argument(
            "--source", default="", help="who made the file, for which year, and where it came from"
        )
        parser.add_argument(
            "--dense", action="store_true", help="believe more than 100,000 people per km² in a cell"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        refused = [path for path in options["files"] if not self._import(path, options)]
        if refused:
            done = len(options["files"]) - len(refused)
            raise CommandError(f"{len(refused)} refused, {done} imported or already there.")

    def _import(self, path: Path, options: dict[str, Any]) -> bool:
        try:
            report = import_population(
                path,
                given_as=options["given_as"],
                source=options["source"],
                is_dense=options["dense"],
                now=timezone.now(),
            )
        except RasterRefused as refusal:
            self.stderr.write(refusal.sentence)
            return False
        self.stdout.write("\n".join(report.lines))
        return True
