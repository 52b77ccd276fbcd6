"""What a VTIMEZONE looks like, zone by zone, and that two readers take every one of them right."""

from __future__ import annotations

import random
from collections import Counter
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from dateutil.tz import tzical

from clubops import clock
from nets.calendars.zones import changes, observances, vtimezone
from tests.calendars.nets_at_random import ZONES
from tests.calendars.readers import ask_ical_js

START = datetime(2026, 1, 15, tzinfo=UTC)
END = datetime(2027, 1, 1, tzinfo=UTC)
LONG_AGO = datetime(2004, 1, 1, tzinfo=UTC)


def parts(zone: str, start: datetime = START, end: datetime = END) -> Counter[str]:
    """How many sub-components of each kind, yearly or single."""
    return Counter(
        f"{'daylight' if each.first.daylight else 'standard'} {'yearly' if each.week else 'single'}"
        for each in observances(zone, start, end)
    )


@pytest.mark.parametrize(
    "zone",
    [
        "America/New_York",
        "Europe/London",
        "Europe/Dublin",
        "Australia/Lord_Howe",
        "Pacific/Chatham",
        "Atlantic/Azores",
    ],
)
def test_a_regular_zone_has_one_yearly_rule_for_each_kind_of_time(zone: str) -> None:
    assert parts(zone) == {"daylight yearly": 1, "standard yearly": 1}


@pytest.mark.parametrize(
    "zone", ["America/Phoenix", "Asia/Kolkata", "Asia/Kathmandu", "America/Sao_Paulo", "Etc/UTC"]
)
def test_a_zone_without_changes_has_one_standard_time(zone: str) -> None:
    assert parts(zone) == {"standard single": 1}


def test_a_zone_whose_changes_follow_the_moon_has_one_part_a_change() -> None:
    casablanca = parts("Africa/Casablanca")
    assert set(casablanca) == {"daylight single", "standard single"}
    assert casablanca.total() >= 5


def test_first_sunday_on_or_after_the_second_is_not_promised_as_first_sunday_for_ever() -> None:
    # Chile: 2 to 8 September, 2 to 8 April (tz database, southamerica).
    assert all(each.until for each in observances("America/Santiago", START, END) if each.week)


def test_summer_time_is_daylight_also_where_the_law_calls_winter_the_exception() -> None:
    ahead = {each.first.name: each.first.daylight for each in observances("Europe/Dublin", START, END)}
    assert ahead == {"IST": True, "GMT": False}


def test_lord_howe_changes_by_half_an_hour() -> None:
    steps = {
        each.first.name: each.first.offset_to - each.first.offset_from
        for each in observances("Australia/Lord_Howe", START, END)
    }
    assert steps == {"+11": timedelta(minutes=30), "+1030": timedelta(minutes=-30)}


def test_the_onset_is_the_wall_time_before_the_change() -> None:
    onsets = {
        each.first.name: f"{each.first.onset:%H:%M}" for each in observances("Europe/London", START, END)
    }
    assert onsets == {"BST": "01:00", "GMT": "02:00"}


def test_it_reaches_back_to_the_rules_of_the_first_session() -> None:
    # Energy Policy Act of 2005: until 2006 from the first Sunday of April.
    first = observances("America/New_York", datetime(2005, 7, 1, tzinfo=UTC), END)[0].first
    assert (first.name, first.onset) == ("EDT", datetime(2005, 4, 3, 2))


def test_it_never_writes_rdate() -> None:
    assert all(b"RDATE" not in vtimezone(zone, LONG_AGO, END).to_ical() for zone in ZONES)


def test_it_refuses_entries_from_before_1971() -> None:
    with pytest.raises(ValueError, match="1969-07-20"):
        observances("Europe/London", datetime(1969, 7, 20, tzinfo=UTC), END)


def test_it_refuses_a_zone_that_is_in_no_database() -> None:
    with pytest.raises(clock.ZoneUnknown):
        vtimezone("Europe/Lodnon", START, END)


def sample(zone: str, draw: random.Random) -> list[datetime]:
    """Wall times at random and close to every change, those that exist once."""
    found = [datetime(2004, 1, 2) + timedelta(minutes=draw.randrange(23 * 365 * 1440)) for _ in range(40)]
    near = (-1500, -180, -90, -45, 45, 90, 180, 1500)
    for change in changes(zone, 2049):
        if LONG_AGO < change.at < END:
            found += [change.onset + timedelta(minutes=minutes) for minutes in near]
    return [
        wall for wall in found if wall > datetime(2004, 1, 2) and clock.to_utc(wall, zone).shift == "none"
    ]


def east_s(wall: datetime, zone: str) -> float:
    return (wall - clock.to_utc(wall, zone).at.replace(tzinfo=None)).total_seconds()


def many_zones() -> list[str]:
    return sorted({*ZONES, *clock.zone_names()[::9]})


def test_dateutil_reads_every_offset_right() -> None:
    draw = random.Random(3605)
    wrong = []
    for zone in many_zones():
        read = tzical(StringIO(vtimezone(zone, LONG_AGO, END).to_ical().decode())).get()
        for wall in sample(zone, draw):
            offset = wall.replace(tzinfo=read).utcoffset()
            assert offset is not None
            if offset.total_seconds() != east_s(wall, zone):
                wrong.append((zone, wall))
    assert wrong == []


@pytest.mark.node
def test_ical_js_reads_every_offset_right() -> None:
    draw = random.Random(3605)
    walls = {zone: sample(zone, draw) for zone in many_zones()}
    answers = ask_ical_js(
        {
            "ics": f"BEGIN:VCALENDAR\r\n{vtimezone(zone, LONG_AGO, END).to_ical().decode()}END:VCALENDAR\r\n",
            "until": 0,
            "walls": [[zone, f"{wall:%Y-%m-%dT%H:%M:%S}"] for wall in walls[zone]],
        }
        for zone in walls
    )
    wrong = [
        (zone, wall)
        for zone, answer in zip(walls, answers, strict=True)
        for wall, offset in zip(walls[zone], answer["offsets"], strict=True)
        if offset != east_s(wall, zone)
    ]
    assert wrong == []
