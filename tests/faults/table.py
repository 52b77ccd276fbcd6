"""The table of faults at the end of a test run: what was done, how often, what was lost and what doubled.

Register in the root conftest with `pytest_plugins`. A test adds its line through the `fault_line` fixture; the line
travels with the test's report, also from the processes of a parallel run.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

PROPERTY = "fault"
HEAD = "| fault | database | notices | kills or faults | lost | doubled |"


@pytest.fixture
def fault_line(record_property: Callable[[str, Any], None]) -> Callable[..., None]:
    """Add a line to the table: what was done, where, to how many notices, how often, and what came of it."""

    def add(fault: str, database: str, notices: int, faults: int, lost: int, doubled: int) -> None:
        record_property(PROPERTY, f"| {fault} | {database} | {notices} | {faults} | {lost} | {doubled} |")

    return add


def pytest_terminal_summary(terminalreporter: Any) -> None:
    reports = [report for name in ("passed", "failed") for report in terminalreporter.stats.get(name, [])]
    lines = sorted(
        value
        for report in reports
        if getattr(report, "when", "") == "call"
        for name, value in report.user_properties
        if name == PROPERTY
    )
    if lines:
        terminalreporter.section("faults")
        terminalreporter.write_line(HEAD)
        terminalreporter.write_line("|---|---|---|---|---|---|")
        for line in lines:
            terminalreporter.write_line(line)
