"""What `manage.py` says before anything is installed."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from clubops.bootstrap import environment
from clubops.bootstrap.errors import SetupError
from clubops.bootstrap.pytest_run import pytest_arguments
from clubops.bootstrap.requirements import missing_requirements
from tests.bootstrap.tiny_project import ROOT, TinyProject

# `manage.py` under a Python that calls itself 3.9.2.
AS_AN_OLD_PYTHON = (
    "import runpy, sys; sys.version_info = (3, 9, 2, 'final', 0); "
    "sys.argv = ['manage.py', 'demo', '--no-serve']; runpy.run_path('manage.py', run_name='__main__')"
)


def test_every_python_3_can_read_manage_py() -> None:
    ast.parse((ROOT / "manage.py").read_text(), feature_version=(3, 4))


def test_an_old_python_is_told_what_to_use() -> None:
    command = [sys.executable, "-c", AS_AN_OLD_PYTHON]
    refused = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert refused.returncode == 1
    assert refused.stderr == (
        "This needs Python 3.11 or newer and was started with Python 3.9.2; start it with a newer one, "
        "for example: python3.11 manage.py demo --no-serve\n"
    )


@pytest.mark.parametrize("module", ["clubops.bootstrap.command", "clubops.processes.leash"])
def test_it_needs_nothing_but_the_standard_library(module: str) -> None:
    check = (
        f"import sys; sys.path.insert(0, {str(ROOT)!r}); before = set(sys.modules); import {module}; "
        "print({name.partition('.')[0] for name in set(sys.modules) - before} - sys.stdlib_module_names)"
    )
    bare = [sys.executable, "-I", "-S", "-c", check]
    found = subprocess.run(bare, capture_output=True, text=True, check=True)
    assert ast.literal_eval(found.stdout) == {"clubops"}


@pytest.mark.parametrize("arguments", [["migrate"], ["import_terrain", "a.tif"], []])
def test_any_other_command_says_what_to_run(tmp_path: Path, arguments: list[str]) -> None:
    project = TinyProject(tmp_path / "project")
    refused = project.run(*arguments)
    assert refused.returncode == 1
    assert refused.stderr.count("\n") == 1
    assert "run `python3 manage.py demo` or `python3 manage.py test` once" in refused.stderr
    assert not project.venv.exists()


def test_it_says_how_to_get_a_missing_venv(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    found = environment.importlib.util.find_spec
    monkeypatch.setattr(
        environment.importlib.util, "find_spec", lambda name: None if name == "ensurepip" else found(name)
    )
    with pytest.raises(SetupError, match="apt install python3-venv"):
        environment.Environment(tmp_path).make()


def test_it_does_not_begin_without_room(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(environment, "ROOM_NEEDED_BYTES", 10**18)
    with pytest.raises(SetupError, match=r"GB free in .* needs about .* make room"):
        environment.Environment(tmp_path).make()
    assert not (tmp_path / ".venv").exists()


@pytest.mark.parametrize(
    ("wanted", "missing"),
    [
        ("packaging", False),
        ("packaging>=1", False),
        ("packaging<1", True),
        ("no-such-club-package", True),
        ("no-such-club-package; python_version < '3'", False),
    ],
)
def test_it_compares_what_is_installed_with_what_is_asked(tmp_path: Path, wanted: str, missing: bool) -> None:
    (tmp_path / "pyproject.toml").write_text(f'[project]\ndependencies = ["{wanted}"]\n')
    assert bool(missing_requirements(tmp_path, [])) is missing


def test_the_tests_run_where_everything_is_installed() -> None:
    assert missing_requirements(ROOT, ["dev"]) == []


IN_PARALLEL = ["-n", "3", "--dist", "worksteal"]
NO_BENCH = ["-m", "not bench"]


@pytest.mark.parametrize(
    ("given", "added"),
    [
        ([], IN_PARALLEL + NO_BENCH),
        (["-k", "rota", "-x"], IN_PARALLEL + NO_BENCH),
        (["-n", "1"], NO_BENCH),
        (["-n4"], NO_BENCH),
        (["--numprocesses=2"], NO_BENCH),
        (["--dist=load"], NO_BENCH),
        (["-p", "no:xdist"], NO_BENCH),
        (["--pdb"], NO_BENCH),
        (["-p", "no:randomly"], IN_PARALLEL + NO_BENCH),
        (["-m", "faults"], IN_PARALLEL),
        (["tests/bench"], IN_PARALLEL),
        (["--no-header"], IN_PARALLEL + NO_BENCH),
        (["--maxfail=1"], IN_PARALLEL + NO_BENCH),
    ],
)
def test_pytest_gets_defaults_only_where_none_was_chosen(given: list[str], added: list[str]) -> None:
    assert pytest_arguments(given, cores=3) == added + given
