"""VTIMEZONE against the New York example of RFC 5545 (September 2009), section 3.6.5."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from io import StringIO
from pathlib import Path

from dateutil.tz import tzical

from nets.calendars.zones import vtimezone

EXAMPLE = Path(__file__).parents[2] / "fixtures" / "calendars" / "rfc5545-3-6-5-new-york.txt"


def read(text: str) -> tzinfo:
    zone = tzical(StringIO(text)).get()
    assert zone is not None
    return zone


def walls(first: datetime, last: datetime, step: timedelta) -> Iterator[datetime]:
    at = first
    while at < last:
        yield at
        at += step


def test_it_gives_new_york_the_offsets_of_the_rfc_from_1971_to_2037() -> None:
    published = read(EXAMPLE.read_text())
    ours = read(
        vtimezone("America/New_York", datetime(1971, 1, 2, tzinfo=UTC), datetime(2036, 1, 1, tzinfo=UTC))
        .to_ical()
        .decode()
    )
    # 11 hours, so that every hour of the day comes up; the change itself, 02:00, is left to the reader.
    span = walls(datetime(1971, 1, 3), datetime(2037, 12, 31), timedelta(hours=11))
    compared = [wall for wall in span if not 1 <= wall.hour < 3]
    assert len(compared) > 40_000
    assert [
        wall
        for wall in compared
        if wall.replace(tzinfo=ours).utcoffset() != wall.replace(tzinfo=published).utcoffset()
    ] == []


def test_it_writes_the_present_rules_of_new_york_as_the_rfc_does() -> None:
    at = datetime(2026, 6, 1, tzinfo=UTC)
    text = vtimezone("America/New_York", at, at).to_ical(sorted=False).decode()
    daylight = "DTSTART:20070311T020000\r\nTZOFFSETFROM:-0500\r\nTZOFFSETTO:-0400\r\nTZNAME:EDT\r\n"
    standard = "DTSTART:20071104T020000\r\nTZOFFSETFROM:-0400\r\nTZOFFSETTO:-0500\r\nTZNAME:EST\r\n"
    assert f"BEGIN:DAYLIGHT\r\n{daylight}RRULE:FREQ=YEARLY;BYDAY=2SU;BYMONTH=3\r\nEND:DAYLIGHT" in text
    assert f"BEGIN:STANDARD\r\n{standard}RRULE:FREQ=YEARLY;BYDAY=1SU;BYMONTH=11\r\nEND:STANDARD" in text
    assert text.count("BEGIN:") == 3
