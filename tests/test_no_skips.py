"""A skip is a failure where CLUBOPS_FAIL_ON_SKIP=1, and a skip elsewhere."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SKIPPING = """
import pytest
@pytest.mark.skip(reason="no chromium")
def test_marked(): pass
def test_inside(): pytest.skip("no node")
@pytest.fixture
def nothing(): pytest.skip("no server")
def test_fixture(nothing): pass
@pytest.mark.xfail(strict=True)
def test_known_to_fail(): assert False
def test_passing(): pass
"""
SKIPPED_WHOLE = 'import pytest\npytest.skip("no postgresql", allow_module_level=True)\n'


def run(folder: Path, fail_on_skip: str, *more: str) -> str:
    (folder / "test_parts.py").write_text(SKIPPING)
    (folder / "test_whole.py").write_text(SKIPPED_WHOLE)
    (folder / "pytest.ini").write_text("[pytest]\n")
    command = [sys.executable, "-m", "pytest", "-p", "tests.no_skips", *more, "-q", "-rfE", str(folder)]
    environment = {
        **os.environ,
        "CLUBOPS_FAIL_ON_SKIP": fail_on_skip,
        "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1",
        "PYTHONPATH": str(ROOT),
    }
    return subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True).stdout


def test_skips_are_skips_for_a_contributor(tmp_path: Path) -> None:
    assert "1 passed, 4 skipped, 1 xfailed" in run(tmp_path, "0")


@pytest.mark.parametrize("spread", [(), ("-p", "xdist.plugin", "-n", "2")])
def test_skips_are_failures_where_nothing_may_be_skipped(tmp_path: Path, spread: tuple[str, ...]) -> None:
    said = run(tmp_path, "1", "--continue-on-collection-errors", *spread)
    assert "1 passed, 1 xfailed" in said
    assert "skipped" not in said.splitlines()[-1]
    for reason in ("no chromium", "no node", "no server", "no postgresql"):
        assert f"Nothing may be skipped here, and this was. Skipped: {reason}" in said
