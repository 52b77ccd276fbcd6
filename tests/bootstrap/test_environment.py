"""Making `.venv` for real, in a tiny project, and knowing a bad one."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bootstrap.tiny_project import BARE_PYTHON, TinyProject

SECONDS_TO_START = 2.0


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> TinyProject:
    """A project whose `demo` has run once."""
    project = TinyProject(tmp_path_factory.mktemp("made") / "a project")
    first = project.run("demo", "--port", "8001")
    assert first.returncode == 0, first.stderr
    assert "Making .venv" in first.stdout
    assert f"django ran demo --port 8001 in {project.venv}" in first.stdout
    return project


@pytest.fixture
def project(tmp_path: Path) -> TinyProject:
    return TinyProject(tmp_path / "project")


def test_it_starts_at_once_the_second_time(made: TinyProject) -> None:
    begin = time.monotonic()
    again = made.run("demo")
    assert time.monotonic() - begin < SECONDS_TO_START
    assert again.stdout == f"django ran demo in {made.venv}\n"


def test_it_puts_the_project_on_the_path_of_its_environment(made: TinyProject) -> None:
    asked = [str(made.venv / "bin" / "python"), "-c", "import clubops; print(clubops.__path__[0])"]
    found = subprocess.run(asked, cwd="/", capture_output=True, text=True, check=True)
    assert found.stdout.strip() == str(made.folder / "clubops")


def test_other_commands_use_an_environment_that_is_there(made: TinyProject) -> None:
    assert made.run("migrate").stdout == f"django ran migrate in {made.venv}\n"


def test_it_gives_pytest_the_arguments_and_returns_its_exit_status(made: TinyProject) -> None:
    ran = made.run("test", "-k", "one")
    assert ran.stdout.endswith("'-m', 'not bench', '-k', 'one']\n")
    assert ran.returncode == 3


@pytest.mark.parametrize(
    ("what", "value"),
    [
        ("state", "being made"),
        ("lock_sha256", "0" * 64),
        ("python", "CPython 3.10"),
        ("folder", "/somewhere/else/.venv"),
    ],
)
def test_it_does_not_trust_a_mark_that_differs(made: TinyProject, what: str, value: str) -> None:
    good = made.mark.read_text()
    made.mark.write_text(json.dumps({**json.loads(good), what: value}))
    try:
        refused = made.run("migrate")
    finally:
        made.mark.write_text(good)
    assert refused.returncode == 1
    assert "`migrate` needs are not installed here; run `python3 manage.py demo`" in refused.stderr


def test_it_does_not_trust_half_a_mark(made: TinyProject) -> None:
    good = made.mark.read_text()
    made.mark.write_text(good[: len(good) // 2])
    try:
        assert made.run("migrate").returncode == 1
    finally:
        made.mark.write_text(good)


def test_a_changed_lock_makes_the_environment_anew(made: TinyProject) -> None:
    lock = made.folder / "requirements.lock"
    lock.write_text(lock.read_text() + "# changed\n")
    leftover = made.venv / "leftover"
    leftover.touch()
    # Started from inside the old environment, which has to go: the Python it was made from takes over.
    again = made.run("demo", python=str(made.venv / "bin" / "python"))
    assert "Making .venv" in again.stdout
    assert "django ran demo" in again.stdout
    assert not leftover.exists()


def test_two_runs_after_a_killed_one_make_one_environment(project: TinyProject) -> None:
    with project.start("demo") as killed:
        while not (project.venv / "pyvenv.cfg").exists():
            assert killed.poll() is None
            time.sleep(0.01)
        os.killpg(killed.pid, signal.SIGKILL)
    assert json.loads(project.mark.read_text()) == {"state": "being made"}
    assert project.run("migrate").returncode == 1
    runs = [project.start("demo"), project.start("demo")]
    outputs = [run.communicate(timeout=120)[0] for run in runs]
    assert [run.returncode for run in runs] == [0, 0]
    assert sum("Making .venv" in output for output in outputs) == 1
    assert sum("Another run is making .venv" in output for output in outputs) == 1
    assert all("django ran demo" in output for output in outputs)


def test_it_refuses_what_is_not_locked_and_keeps_what_is_not_ours(project: TinyProject) -> None:
    subprocess.run([BARE_PYTHON, "-m", "venv", "--without-pip", str(project.venv)], check=True)
    (project.venv / "notes.txt").write_text("mine")
    project.lock_with("0" * 64)
    refused = project.run("demo")
    assert refused.returncode == 1
    assert "it is kept as .venv-kept-1" in refused.stdout
    assert (project.folder / ".venv-kept-1" / "notes.txt").read_text() == "mine"
    assert refused.stderr.startswith("A package that was fetched is not the one requirements.lock names")
    assert not project.venv.exists()


def test_a_good_interpreter_is_used_as_it_is(project: TinyProject) -> None:
    (project.folder / "pyproject.toml").write_text('[project]\nname = "tiny"\ndependencies = ["packaging"]\n')
    ran = project.run("demo", python=sys.executable)
    assert "Making" not in ran.stdout
    assert not project.venv.exists()


@pytest.fixture
def folder_of_root() -> Iterator[Path]:
    """A folder anybody may enter and only root may write to."""
    folder = Path(tempfile.mkdtemp(prefix="read-only-"))
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


def test_it_says_so_where_it_cannot_write(folder_of_root: Path) -> None:
    project = TinyProject(folder_of_root / "project")
    for path in [folder_of_root, *folder_of_root.rglob("*")]:
        path.chmod(0o555 if path.is_dir() else 0o444)
    nobody = {"user": 65534, "group": 65534, "extra_groups": []} if os.geteuid() == 0 else {}
    # The machine's Python may itself be out of another user's reach; the permission is what is tested.
    python = "/usr/bin/python3" if nobody and sys.version_info[:2] == (3, 11) else BARE_PYTHON
    refused = subprocess.run(
        [python, str(project.folder / "manage.py"), "demo"],
        env={**project.environment, "PYTHONDONTWRITEBYTECODE": "1"},
        cwd="/",
        capture_output=True,
        text=True,
        **nobody,
    )
    assert refused.returncode == 1
    assert refused.stderr.startswith(f"{project.folder} cannot be written to; copy the project to a folder")
    assert refused.stderr.count("\n") == 1
