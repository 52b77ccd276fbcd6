"""An import in a process of its own, for tests that kill it. Prints one line of JSON: that it hangs, or what is there.

python -m tests.population.import_script prepare|show
python -m tests.population.import_script take FILE         imports it
python -m tests.population.import_script hang POINT FILE   imports it, and stops for ever at reading, moving or row
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

import django

django.setup()

from django.core.files.storage import default_storage  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.utils import timezone  # noqa: E402

from relays.models import PopulationRaster  # noqa: E402
from relays.population import counting, store  # noqa: E402
from relays.propagation.terrain import Lattice  # noqa: E402

MAP = Lattice(36.5, -84.5, 0.01, 0.01, 150, 100)


def say(**facts: Any) -> None:
    print(json.dumps(facts), flush=True)


def hang(*_: Any, **__: Any) -> Any:
    say(hanging=True)
    time.sleep(600)


def prepare() -> None:
    call_command("migrate", verbosity=0)
    show()


def show() -> None:
    folder = Path(default_storage.path("population"))
    everybody = counting.current()
    say(
        rows=PopulationRaster.objects.count(),
        people=round(float(everybody.on(MAP).sum()), 3) if everybody else None,
        files=len(list(folder.glob("*.tif"))),
    )


def take(file: str) -> None:
    store.import_population(Path(file), given_as="count", now=timezone.now())
    show()


def hang_at(point: str, file: str) -> None:
    """Reading: a strip of three is read. Moving: the new file is whole. Row: it is in place, its row not saved."""
    if point == "row":
        PopulationRaster.save = hang
    elif point == "moving":
        store._kept = hang
    progress = hang if point == "reading" else lambda done: None
    store.import_population(Path(file), given_as="count", now=timezone.now(), progress=progress)


if __name__ == "__main__":
    {"prepare": prepare, "show": show, "take": take, "hang": hang_at}[sys.argv[1]](*sys.argv[2:])
