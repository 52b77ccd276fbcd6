"""Run the service on this machine: web, worker, beat and, unless a broker is named, a private Redis."""

from __future__ import annotations

import argparse
import subprocess
import sys
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from clubops.processes import service
from clubops.processes.errors import ProcessError

COMPILE = "compile_calculation"


class Command(BaseCommand):
    help = "Bring the database up to date and serve the club on 127.0.0.1, for a proxy in front. ^C stops it."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="port on 127.0.0.1 (default 8000)")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            with (
                service.only_run(settings.VAR_DIR) as lock_fd,
                service.open_listener(options["port"]) as listener,
            ):
                call_command("migrate", verbosity=0)
                call_command("collectstatic", verbosity=0, interactive=False)
                # A process of its own: this one stays for as long as the service runs, and small.
                subprocess.run([sys.executable, "manage.py", COMPILE], cwd=settings.BASE_DIR, check=False)
                service.serve(
                    folder=settings.BASE_DIR,
                    var_folder=settings.VAR_DIR,
                    listener=listener,
                    lock_fd=lock_fd,
                    say=self.stdout.write,
                )
        except ProcessError as problem:
            raise CommandError(str(problem)) from problem
