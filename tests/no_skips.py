"""Turns a skipped test into a failed one where CLUBOPS_FAIL_ON_SKIP=1, as continuous integration sets it.

A test that needs chromium or node is skipped with a sentence on a machine without them. Where they have been
installed on purpose, a skip means that something was not tested after all. Register in a conftest with
`pytest_plugins = ["tests.no_skips"]`.
"""

from __future__ import annotations

import os
from collections.abc import Generator

import pytest


def skips_are_failures() -> bool:
    return os.environ.get("CLUBOPS_FAIL_ON_SKIP", "0") == "1"


def fail_if_skipped(report: pytest.TestReport | pytest.CollectReport) -> None:
    """Change a skip into a failure that gives the reason; an expected failure is not a skip."""
    if report.skipped and not hasattr(report, "wasxfail") and skips_are_failures():
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
        report.outcome = "failed"
        report.longrepr = f"Nothing may be skipped here, and this was. {reason}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    fail_if_skipped(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    report = yield
    fail_if_skipped(report)
    return report
