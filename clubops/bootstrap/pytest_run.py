"""The `test` command: pytest on every core, in random order, with whatever else was asked for."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn


def run_pytest(folder: Path, given: Sequence[str]) -> NoReturn:
    """Become pytest, so that its exit status and its answer to ^C are this command's own."""
    os.chdir(folder)
    arguments = pytest_arguments(given, cores=available_cores())
    sys.stdout.flush()
    os.execv(sys.executable, [sys.executable, "-m", "pytest", *arguments])


def pytest_arguments(given: Sequence[str], cores: int) -> list[str]:
    """What the person asked for, after the defaults they did not choose otherwise.

    One process a core; `worksteal` keeps a file's tests together at first, as pytest-randomly shuffles
    whole files, and still does not wait at the end for the one long file. Measurements are left out unless
    asked for by `-m` or by their folder's name. A debugger needs the terminal, so it gets one process.
    """
    arguments: list[str] = []
    parallel_chosen = _has_option(given, "-n", "--numprocesses", "--dist", "--pdb", "--trace")
    if not parallel_chosen and not any("no:xdist" in argument for argument in given):
        arguments += ["-n", str(cores), "--dist", "worksteal"]
    if not _has_option(given, "-m") and not any("bench" in argument for argument in given):
        arguments += ["-m", "not bench"]
    return [*arguments, *given]


def _has_option(given: Sequence[str], *names: str) -> bool:
    """Whether one of the options is there, in any spelling pytest takes: `-n 2`, `-n2`, `--dist=load`."""
    return any(
        argument == name
        or (name.startswith("--") and argument.startswith(f"{name}="))
        or (not name.startswith("--") and argument.startswith(name) and not argument.startswith("--"))
        for argument in given
        for name in names
    )


def available_cores() -> int:
    """The cores this process may use, which in a container are fewer than the machine has."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
