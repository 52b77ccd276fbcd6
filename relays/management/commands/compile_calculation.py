"""manage.py compile_calculation: compile the path calculation once, so that nobody waits for it later."""

from __future__ import annotations

import time
from typing import Any

from django.core.management.base import BaseCommand

from relays.propagation import raster


class Command(BaseCommand):
    help = (
        "Compile the coverage calculation for this machine; about 15 s once, later it is read from a cache."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write("Compiling the calculation (about 15 s the first time)...")
        start = time.perf_counter()
        raster.warm_up()
        self.stdout.write(f"Compiled, or read from the cache, in {time.perf_counter() - start:.1f} s.")
