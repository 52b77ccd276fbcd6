"""A worker in a process of its own, for tests that kill it. Prints one line of JSON: where it is, or the run.

python -m tests.coverage.worker_script prepare
python -m tests.coverage.worker_script hang [sweep|file|row]   computes, and stops for ever at that point
python -m tests.coverage.worker_script work [seconds later] [bytes a file may have]
"""

from __future__ import annotations

import datetime as dt
import json
import os
import resource
import signal
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from pathlib import Path
from threading import Barrier
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

import django

django.setup()

from django.core.files.storage import default_storage  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.utils import timezone  # noqa: E402

from relays import terrain_store  # noqa: E402
from relays.coverage import rasters, runs, working  # noqa: E402
from relays.models import CoverageRun, Relay, Site  # noqa: E402
from tests.coverage.hills import hills  # noqa: E402
from tests.terrain.rasters import write_geotiff  # noqa: E402


def say(**facts: Any) -> None:
    print(json.dumps(facts), flush=True)


def hang(*_: Any, **__: Any) -> Any:
    say(hanging=True)
    time.sleep(600)


def prepare() -> None:
    """A database, hilly ground, a relay and a run that waits."""
    call_command("migrate", verbosity=0)
    with tempfile.TemporaryDirectory() as folder:
        path = write_geotiff(Path(folder) / "ground.tif", hills(), west=-84.0, north=36.0)
        terrain_store.import_tile(path, kind="ground", now=timezone.now())
    site = Site.objects.create(name="Slope", slug="slope", latitude_deg=35.953, longitude_deg=-83.948)
    relay = Relay.objects.create(
        site=site,
        name="Slope 2 m",
        slug="slope-2m",
        call_sign="QZ2SLP",
        output_mhz=Decimal("146.730"),
        input_mhz=Decimal("146.130"),
        antenna_height_m=18,
    )
    runs.ask(relay, now=timezone.now())
    tell()


def tell() -> None:
    run = CoverageRun.objects.select_related("relay__site").get()
    folder = Path(default_storage.path(runs.FOLDER))
    say(
        state=run.state,
        error=run.error,
        attempts=run.attempts,
        raster=run.raster.name,
        fresh=runs.fresh(run.relay) is not None,
        files=sorted(entry.name for entry in folder.glob("*.tif")) if folder.exists() else [],
    )


def work(later_s: str = "0", most_bytes: str = "") -> None:
    if most_bytes:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        # The database's own files are larger than a raster and must still be written.
        write_bytes = rasters.as_file

        def limited(*args: Any, **tags: Any) -> bytes:
            content = write_bytes(*args, **tags)
            resource.setrlimit(resource.RLIMIT_FSIZE, (int(most_bytes), resource.RLIM_INFINITY))
            return content

        rasters.as_file = limited
        lift_when_failed()
    later = dt.timedelta(seconds=float(later_s))
    working.compute(CoverageRun.objects.get().pk, clock=lambda: timezone.now() + later)
    tell()


def lift_when_failed() -> None:
    """The limit holds for the raster only: it is lifted before the row is written."""
    passing = working._passing

    def lifted(problem: BaseException) -> str:
        resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        return passing(problem)

    working._passing = lifted


def hang_at(point: str) -> None:
    if point == "sweep":
        working._Held.moved = hang
    elif point == "file":
        rasters.as_file = hang
    else:
        working._name_in_row = hang
    working.compute(CoverageRun.objects.get().pk, clock=timezone.now)


def at_once(act: Callable[[], Any]) -> list[Any]:
    """Four threads with connections of their own, let go together."""
    together = Barrier(4)

    def one(_: int) -> Any:
        together.wait(timeout=20)
        try:
            return act()
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        return list(pool.map(one, range(4)))


def race() -> None:
    relay = Relay.objects.select_related("site").get()
    CoverageRun.objects.all().delete()
    connection.close()
    asked = at_once(lambda: runs.ask(relay, now=timezone.now()).pk)
    won = at_once(lambda: working.claim(asked[0], now=timezone.now()) is not None)
    say(asked=len(set(asked)), rows=CoverageRun.objects.count(), won=sum(won))


if __name__ == "__main__":
    {"prepare": prepare, "work": work, "hang": hang_at, "race": race}[sys.argv[1]](*sys.argv[2:])
