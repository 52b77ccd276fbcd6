"""Load the invented club, work everything out, show it, and serve it."""

from __future__ import annotations

import argparse
import contextlib
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from clubops.processes import service
from clubops.processes.errors import ProcessError
from nets import demo_report, demo_run


class Command(BaseCommand):
    help = "Load the invented club, work out its week, and serve it on 127.0.0.1."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="port on 127.0.0.1 (default 8000)")
        parser.add_argument("--no-serve", action="store_true", help="work everything out, print it, and stop")

    def handle(self, *args: Any, **options: Any) -> None:
        console = Console(highlight=False)
        try:
            with contextlib.ExitStack() as stack:
                lock_fd = stack.enter_context(service.only_run(settings.VAR_DIR))
                listener = None if options["no_serve"] else service.open_listener(options["port"])
                if listener is not None:
                    # Only now is the port known; calendars and mails made below name it.
                    settings.SITE_ADDRESS = service.address_of(listener)
                self._work_out(console)
                console.print(
                    demo_report.summary(now=timezone.now(), address=settings.SITE_ADDRESS), soft_wrap=True
                )
                if listener is not None:
                    service.serve(
                        folder=settings.BASE_DIR,
                        var_folder=settings.VAR_DIR,
                        listener=listener,
                        lock_fd=lock_fd,
                        say=lambda line: console.print(line, markup=False),
                        when_ready=lambda at: console.print(f"Open {at}/ in a browser. ^C stops everything."),
                    )
        except ProcessError as problem:
            raise CommandError(str(problem)) from problem

    def _work_out(self, console: Console) -> None:
        """Every step with its bar; a step that was done before is over at once."""
        with Progress(
            TextColumn("{task.description:<42}"),
            BarColumn(),
            MofNCompleteColumn(),
            console=console,
            transient=False,
        ) as bars:
            call_command("migrate", verbosity=0)
            call_command("collectstatic", verbosity=0, interactive=False)
            for title, step in demo_run.STEPS:
                bar = bars.add_task(title, total=None)

                def moved(done: int, total: int, bar: Any = bar) -> None:
                    bars.update(bar, completed=done, total=total)

                step(timezone.now(), moved)
                task = next(each for each in bars.tasks if each.id == bar)
                bars.update(bar, total=task.total or 1, completed=task.total or 1)
