"""Recurrence against RFC 5545 (2009): its examples in section 3.8.5.3, and the table of hard instants.

The examples are in fixtures/authorities/rfc5545_recurrence.txt. Those of 1997 run under the rule of their
year (clocks back on the last Sunday of October), which the tz database keeps. The hard instants are read by
the policy of section 3.3.5; their UTC times are those of tests/clubops/test_clock_published.py.
"""

import re
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from tests.nets.series import NEW_YORK, meet

FIXTURE = Path(__file__).parents[2] / "fixtures" / "authorities" / "rfc5545_recurrence.txt"
RFC_EXAMPLES = [
    tuple(field.strip() for field in line.split("|"))
    for line in FIXTURE.read_text().splitlines()
    if not line.startswith("#")
]

UTC_HOUR_OF_NINE = {"EDT": 13, "EST": 14}


def listed(text: str) -> list[datetime]:
    """UTC starts of the RFC's lists: "EDT 1997-09 2-30/2" is every second day from the 2nd to the 30th."""
    starts = []
    for group in text.split(","):
        abbreviation, month, *items = group.split()
        for item in items:
            first, last, step = re.fullmatch(r"(\d+)(?:-(\d+))?(?:/(\d+))?", item).groups()
            for day in range(int(first), int(last or first) + 1, int(step or 1)):
                start = datetime.fromisoformat(f"{month}-{day:02}").replace(tzinfo=UTC)
                starts.append(start.replace(hour=UTC_HOUR_OF_NINE[abbreviation]))
    return starts


@pytest.mark.parametrize(("first", "rule", "dates"), RFC_EXAMPLES)
def test_it_gives_the_dates_that_the_rfc_lists(first, rule, dates):
    expected = listed(dates)
    ends = "COUNT" in rule or "UNTIL" in rule
    until = "2199-12-31" if ends else f"{expected[-1] + timedelta(seconds=1):%Y-%m-%dT%H:%M:%S}"
    got = meet(rule, f"{first}T09:00", until=until)
    assert [occurrence.starts_at for occurrence in got] == expected
    assert {occurrence.wall.time() for occurrence in got} == {time(9)}


def test_the_until_examples_have_the_lengths_that_were_counted_by_hand():
    assert len(meet("FREQ=DAILY;UNTIL=19971224T000000Z", "1997-09-02T09:00")) == 113
    assert len(meet("FREQ=WEEKLY;UNTIL=19971224T000000Z", "1997-09-02T09:00")) == 17


# what it shows; first wall, rule, zone; [(wall, UTC, shift)]
HARD_INSTANTS = [
    (
        "a Tuesday evening keeps its clock time over the spring change in New York",
        ("2026-03-03T19:30", "FREQ=WEEKLY;COUNT=2", NEW_YORK),
        [("2026-03-03T19:30", "2026-03-04T00:30", "none"), ("2026-03-10T19:30", "2026-03-10T23:30", "none")],
    ),
    (
        "and over the autumn change",
        ("2026-10-27T19:30", "FREQ=WEEKLY;COUNT=2", NEW_YORK),
        [("2026-10-27T19:30", "2026-10-27T23:30", "none"), ("2026-11-03T19:30", "2026-11-04T00:30", "none")],
    ),
    (
        "London changes on other days",
        ("2026-03-24T19:30", "FREQ=WEEKLY;COUNT=2", "Europe/London"),
        [("2026-03-24T19:30", "2026-03-24T19:30", "none"), ("2026-03-31T19:30", "2026-03-31T18:30", "none")],
    ),
    (
        "Sydney changes the other way round",
        ("2026-03-31T19:30", "FREQ=WEEKLY;COUNT=2", "Australia/Sydney"),
        [("2026-03-31T19:30", "2026-03-31T08:30", "none"), ("2026-04-07T19:30", "2026-04-07T09:30", "none")],
    ),
    (
        "a start in the gap meets an hour later by the new clock, and is counted",
        ("2026-03-07T02:30", "FREQ=DAILY;COUNT=3", NEW_YORK),
        [
            ("2026-03-07T02:30", "2026-03-07T07:30", "none"),
            ("2026-03-08T02:30", "2026-03-08T07:30", "gap"),
            ("2026-03-09T02:30", "2026-03-09T06:30", "none"),
        ],
    ),
    (
        "a repeated start is the first of the two",
        ("2026-10-31T01:30", "FREQ=DAILY;COUNT=3", NEW_YORK),
        [
            ("2026-10-31T01:30", "2026-10-31T05:30", "none"),
            ("2026-11-01T01:30", "2026-11-01T05:30", "fold"),
            ("2026-11-02T01:30", "2026-11-02T06:30", "none"),
        ],
    ),
    (
        "Lord Howe's gap is half an hour",
        ("2026-10-03T02:15", "FREQ=DAILY;COUNT=3", "Australia/Lord_Howe"),
        [
            ("2026-10-03T02:15", "2026-10-02T15:45", "none"),
            ("2026-10-04T02:15", "2026-10-03T15:45", "gap"),
            ("2026-10-05T02:15", "2026-10-04T15:15", "none"),
        ],
    ),
    (
        "29 February comes in leap years alone",
        ("2024-02-29T19:30", "FREQ=MONTHLY;BYMONTH=2;BYMONTHDAY=29;COUNT=2", "Europe/London"),
        [("2024-02-29T19:30", "2024-02-29T19:30", "none"), ("2028-02-29T19:30", "2028-02-29T19:30", "none")],
    ),
    (
        "a half-hour zone",
        ("2026-02-26T19:30", "FREQ=MONTHLY;BYDAY=-1TH;COUNT=2", "Asia/Kolkata"),
        [("2026-02-26T19:30", "2026-02-26T14:00", "none"), ("2026-03-26T19:30", "2026-03-26T14:00", "none")],
    ),
    (
        "the day before in UTC, far in the east",
        ("2026-07-01T08:00", "FREQ=WEEKLY;COUNT=2", "Pacific/Kiritimati"),
        [("2026-07-01T08:00", "2026-06-30T18:00", "none"), ("2026-07-08T08:00", "2026-07-07T18:00", "none")],
    ),
    (
        "the day that Samoa skipped starts together with the next",
        ("2011-12-29T19:30", "FREQ=DAILY;COUNT=4", "Pacific/Apia"),
        [
            ("2011-12-29T19:30", "2011-12-30T05:30", "none"),
            ("2011-12-30T19:30", "2011-12-31T05:30", "gap"),
            ("2011-12-31T19:30", "2011-12-31T05:30", "none"),
            ("2012-01-01T19:30", "2012-01-01T05:30", "none"),
        ],
    ),
]


@pytest.mark.parametrize(("case", "series", "expected"), HARD_INSTANTS, ids=[row[0] for row in HARD_INSTANTS])
def test_hard_instants(case, series, expected):
    first, rule, zone = series
    got = meet(rule, first, zone)
    assert [(item.key, f"{item.starts_at:%Y-%m-%dT%H:%M}", item.shift) for item in got] == expected


def test_until_is_read_in_utc_and_included():
    # 19:30 in New York on 3 March 2026 is 00:30 UTC on the 4th: the date in UTC alone would not say so
    assert len(meet("FREQ=WEEKLY;UNTIL=20260304T003000Z", "2026-02-24T19:30")) == 2
    assert len(meet("FREQ=WEEKLY;UNTIL=20260304T002959Z", "2026-02-24T19:30")) == 1


def test_bysetpos_counts_from_the_start_of_the_week_and_not_of_the_series():
    # Section 3.3.10: "A set of recurrence instances starts at the beginning of the interval". The series
    # starts on a Wednesday, the third of the working days of its week.
    got = meet("FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=1,3;COUNT=3", "2024-10-23T19:30")
    assert [item.wall.date() for item in got] == [date(2024, 10, 23), date(2024, 10, 28), date(2024, 10, 30)]
