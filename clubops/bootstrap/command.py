"""One `manage.py` command, run from the right environment."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path

from clubops.bootstrap.environment import Environment
from clubops.bootstrap.errors import SetupError
from clubops.bootstrap.pytest_run import run_pytest
from clubops.bootstrap.requirements import extras_for

MAKES_ITS_ENVIRONMENT = ("demo", "test")


def main(folder: str, argv: Sequence[str]) -> int:
    """Run the command that `argv` names; the result is the exit status."""
    command = argv[1] if len(argv) > 1 else ""
    place = Environment(Path(folder))
    try:
        settle_in(place, command, argv)
        if command == "test":
            run_pytest(place.folder, argv[2:])
        return run_django(argv)
    except SetupError as trouble:
        print(trouble, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        return 130


def settle_in(place: Environment, command: str, argv: Sequence[str]) -> None:
    """Return if this interpreter is good for `command`; otherwise start again in one that is.

    Only `demo` and `test` make an environment. Raises SetupError when there is none to go to.
    """
    extras = extras_for(command)
    if place.is_this_interpreter_good(extras):
        return
    if not place.is_good(extras):
        if command not in MAKES_ITS_ENVIRONMENT:
            raise SetupError(
                f"The packages that `{command or 'manage.py'}` needs are not installed here; "
                "run `python3 manage.py demo` or `python3 manage.py test` once, which installs them "
                "in .venv, and then this command again."
            )
        place.make(extras)
    place.start_again_inside(argv)


def run_django(argv: Sequence[str]) -> int:
    """Hand the command to Django."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clubops.settings")
    from django.core.management import execute_from_command_line  # noqa: PLC0415 - installed by now

    execute_from_command_line(list(argv))
    return 0
