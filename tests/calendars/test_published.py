"""Published dates, read out of our feeds by others.

The examples of RFC 5545 (2009) section 3.8.5.3 are in fixtures/authorities/rfc5545_recurrence.txt. The 2026 cases
follow from the tz database: New York changes on 8 March and 1 November, London on 29 March and 25 October.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from nets.calendars.entries import NetSeries
from nets.calendars.feed import build
from tests.calendars.nets_at_random import feed_of
from tests.calendars.readers import (
    ask_ical_js,
    question,
    seen_by_ical_js,
    seen_by_python,
    seen_by_zone_in_file,
)

FIXTURE = Path(__file__).parents[2] / "fixtures" / "authorities" / "rfc5545_recurrence.txt"
EXAMPLES = [
    tuple(field.strip() for field in line.split("|"))
    for line in FIXTURE.read_text().splitlines()
    if not line.startswith("#")
]
HOUR_OF_NINE = {"EDT": 13, "EST": 14}
CASES_OF_2026 = [
    ("America/New_York", "2026-03-03", ["2026-03-04T00:30", "2026-03-10T23:30"]),
    ("America/New_York", "2026-10-27", ["2026-10-27T23:30", "2026-11-04T00:30"]),
    ("Europe/London", "2026-03-24", ["2026-03-24T19:30", "2026-03-31T18:30"]),
    ("Europe/London", "2026-10-20", ["2026-10-20T18:30", "2026-10-27T19:30"]),
    ("America/Phoenix", "2026-03-03", ["2026-03-04T02:30", "2026-03-11T02:30"]),
]

Case = tuple[NetSeries, list[datetime]]


def listed(text: str) -> list[datetime]:
    """Starts in UTC: "EDT 1997-09 2-30/2" is every second day from the 2nd to the 30th, at 09:00 EDT."""
    starts = []
    for group in text.split(","):
        abbreviation, month, *items = group.split()
        for item in items:
            first, last, step = re.fullmatch(r"(\d+)(?:-(\d+))?(?:/(\d+))?", item).groups()
            for day in range(int(first), int(last or first) + 1, int(step or 1)):
                start = datetime.fromisoformat(f"{month}-{day:02}").replace(tzinfo=UTC)
                starts.append(start.replace(hour=HOUR_OF_NINE[abbreviation]))
    return starts


@pytest.fixture
def cases(net: NetSeries) -> list[Case]:
    of_the_rfc = [
        (
            replace(net, seed=rule, rule=rule, first_wall=datetime.fromisoformat(f"{first}T09:00")),
            listed(dates),
        )
        for first, rule, dates in EXAMPLES
    ]
    of_2026 = [
        (
            replace(
                net, seed=f"{zone} {first}", zone=zone, first_wall=datetime.fromisoformat(f"{first}T19:30")
            ),
            [datetime.fromisoformat(start).replace(tzinfo=UTC) for start in starts],
        )
        for zone, first, starts in CASES_OF_2026
    ]
    return of_the_rfc + of_2026


def reach(case: Case) -> datetime:
    """Where the published list stops; past it for a rule that ends, so that a session too many is seen."""
    net, starts = case
    ends = "COUNT" in net.rule or "UNTIL" in net.rule
    return starts[-1] + (timedelta(days=1000) if ends else timedelta(seconds=1))


def feed_bytes(case: Case) -> bytes:
    return build(feed_of(case[0], horizon=reach(case))).content


def at(seen: dict[tuple[int, int, str, str], int]) -> list[datetime]:
    return sorted(datetime.fromtimestamp(start, UTC) for start, *_ in seen)


def test_python_reads_the_published_dates(cases: list[Case]) -> None:
    assert len(cases) > 30
    for case in cases:
        assert at(seen_by_python(feed_bytes(case), reach(case))) == case[1], case[0].rule


def test_python_reads_the_published_dates_by_the_zone_in_the_file(cases: list[Case]) -> None:
    for case in cases:
        assert at(seen_by_zone_in_file(feed_bytes(case), reach(case))) == case[1], case[0].rule


@pytest.mark.node
def test_ical_js_reads_the_published_dates(cases: list[Case]) -> None:
    answers = ask_ical_js(question(feed_bytes(case), reach(case)) for case in cases)
    for case, answer in zip(cases, answers, strict=True):
        assert at(seen_by_ical_js(answer)) == case[1], case[0].rule
