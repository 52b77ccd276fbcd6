"""What the project needs installed, and whether the running interpreter has it."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import metadata
from pathlib import Path


def extras_for(command: str) -> tuple[str, ...]:
    """Only the tests need more than the service does."""
    return ("dev",) if command == "test" else ()


def missing_requirements(folder: Path, extras: Sequence[str]) -> list[str]:
    """The lines of `pyproject.toml` that the running interpreter does not satisfy."""
    try:
        from packaging.requirements import Requirement  # noqa: PLC0415 - itself one of the requirements
    except ImportError:
        return ["packaging"]
    import tomllib  # noqa: PLC0415 - never reached on a bare Python, where it would only cost time

    project = tomllib.loads((folder / "pyproject.toml").read_text())["project"]
    lines = [*project["dependencies"]]
    for extra in extras:
        lines += project.get("optional-dependencies", {}).get(extra, [])
    missing = []
    for line in lines:
        wanted = Requirement(line)
        if wanted.marker is not None and not wanted.marker.evaluate():
            continue
        try:
            found = metadata.version(wanted.name)
        except metadata.PackageNotFoundError:
            found = ""
        if not found or not wanted.specifier.contains(found, prereleases=True):
            missing.append(line)
    return missing
