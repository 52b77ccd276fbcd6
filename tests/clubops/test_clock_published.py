"""Wall time and zone against the tz database, RFC 5545 and PEP 495.

Every instant in the table is a change of clocks recorded in the IANA tz database (read in edition 2025b; the
source file of each is named beside it, and none has been revised since the change it describes). The policy
for skipped and repeated wall times is RFC 5545 (2009) section 3.3.5, FORM #3; its own two examples are the
rows marked so. The 2026 rows follow from the rules in force since 2007 (New York), 1996 (London) and 2008
(Sydney).
"""

import re
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from clubops import clock

# wall time, zone, UTC, shift, wall time shown by the clocks at that instant (None: as asked)
HARD_INSTANTS = [
    # RFC 5545 section 3.3.5: the skipped 02:30 is 03:30 EDT, the repeated 01:30 is the one in EDT
    ("2007-03-11 02:30", "America/New_York", "2007-03-11 07:30", "gap", "2007-03-11 03:30"),
    ("2007-11-04 01:30", "America/New_York", "2007-11-04 05:30", "fold", None),
    # New York, tz file northamerica: the gap of 2026 and both its edges, the fold and both its edges
    ("2026-03-08 01:59", "America/New_York", "2026-03-08 06:59", "none", None),
    ("2026-03-08 02:00", "America/New_York", "2026-03-08 07:00", "gap", "2026-03-08 03:00"),
    ("2026-03-08 02:30", "America/New_York", "2026-03-08 07:30", "gap", "2026-03-08 03:30"),
    ("2026-03-08 03:00", "America/New_York", "2026-03-08 07:00", "none", None),
    ("2026-11-01 00:59", "America/New_York", "2026-11-01 04:59", "none", None),
    ("2026-11-01 01:00", "America/New_York", "2026-11-01 05:00", "fold", None),
    ("2026-11-01 01:30", "America/New_York", "2026-11-01 05:30", "fold", None),
    ("2026-11-01 02:00", "America/New_York", "2026-11-01 07:00", "none", None),
    # Tuesdays at 19:30 about the changes of 2026
    ("2026-03-03 19:30", "America/New_York", "2026-03-04 00:30", "none", None),
    ("2026-03-10 19:30", "America/New_York", "2026-03-10 23:30", "none", None),
    ("2026-10-27 19:30", "America/New_York", "2026-10-27 23:30", "none", None),
    ("2026-11-03 19:30", "America/New_York", "2026-11-04 00:30", "none", None),
    ("2026-03-24 19:30", "Europe/London", "2026-03-24 19:30", "none", None),
    ("2026-03-31 19:30", "Europe/London", "2026-03-31 18:30", "none", None),
    ("2026-10-20 19:30", "Europe/London", "2026-10-20 18:30", "none", None),
    ("2026-10-27 19:30", "Europe/London", "2026-10-27 19:30", "none", None),
    # Phoenix does not change its clocks (northamerica)
    ("2026-03-10 19:30", "America/Phoenix", "2026-03-11 02:30", "none", None),
    ("2026-11-03 19:30", "America/Phoenix", "2026-11-04 02:30", "none", None),
    # Leap day
    ("2028-02-29 23:30", "Europe/London", "2028-02-29 23:30", "none", None),
    ("2028-02-29 19:30", "America/New_York", "2028-03-01 00:30", "none", None),
    # Southern hemisphere: Sydney back on 5 April, forward on 4 October 2026 (australasia)
    ("2026-04-05 02:30", "Australia/Sydney", "2026-04-04 15:30", "fold", None),
    ("2026-10-04 02:30", "Australia/Sydney", "2026-10-03 16:30", "gap", "2026-10-04 03:30"),
    # Half-hour and quarter-hour zones (asia, australasia, northamerica)
    ("2026-07-01 19:30", "Asia/Kolkata", "2026-07-01 14:00", "none", None),
    ("2026-07-01 19:30", "Asia/Kathmandu", "2026-07-01 13:45", "none", None),
    ("2026-07-01 19:30", "America/St_Johns", "2026-07-01 22:00", "none", None),
    ("2026-03-08 02:30", "America/St_Johns", "2026-03-08 06:00", "gap", "2026-03-08 03:30"),
    # Lord Howe changes by half an hour: +11 to +10:30 and back (australasia)
    ("2026-04-05 01:45", "Australia/Lord_Howe", "2026-04-04 14:45", "fold", None),
    ("2026-10-04 02:15", "Australia/Lord_Howe", "2026-10-03 15:45", "gap", "2026-10-04 02:45"),
    ("2026-10-04 02:30", "Australia/Lord_Howe", "2026-10-03 15:30", "none", None),
    # Far from UTC: Kiritimati +14, Pago Pago -11, Chatham +12:45 / +13:45 (australasia)
    ("2026-07-01 08:00", "Pacific/Kiritimati", "2026-06-30 18:00", "none", None),
    ("2026-07-01 19:30", "Pacific/Pago_Pago", "2026-07-02 06:30", "none", None),
    ("2026-07-01 19:30", "Pacific/Chatham", "2026-07-01 06:45", "none", None),
    ("2026-01-01 19:30", "Pacific/Chatham", "2026-01-01 05:45", "none", None),
    ("2026-09-27 03:00", "Pacific/Chatham", "2026-09-26 14:15", "gap", "2026-09-27 04:00"),
    # Samoa skipped the whole of 30 December 2011, from -10 to +14 (australasia)
    ("2011-12-29 19:30", "Pacific/Apia", "2011-12-30 05:30", "none", None),
    ("2011-12-30 19:30", "Pacific/Apia", "2011-12-31 05:30", "gap", "2011-12-31 19:30"),
    ("2011-12-31 19:30", "Pacific/Apia", "2011-12-31 05:30", "none", None),
    # Midnight itself skipped: Santiago, 2023-09-03 (southamerica)
    ("2023-09-03 00:00", "America/Santiago", "2023-09-03 04:00", "gap", "2023-09-03 01:00"),
    # Winter time as the negative change: Dublin (europe)
    ("2026-03-29 01:30", "Europe/Dublin", "2026-03-29 01:30", "gap", "2026-03-29 02:30"),
    ("2026-10-25 01:30", "Europe/Dublin", "2026-10-25 00:30", "fold", None),
]


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(("wall", "zone", "at", "shift", "shown"), HARD_INSTANTS)
def test_it_reads_a_hard_wall_time(wall, zone, at, shift, shown):
    assert clock.to_utc(datetime.fromisoformat(wall), zone) == clock.Instant(utc(at), shift)


@pytest.mark.parametrize(("wall", "zone", "at", "shift", "shown"), HARD_INSTANTS)
def test_it_shows_the_wall_time_of_a_hard_instant(wall, zone, at, shift, shown):
    assert clock.to_wall(utc(at), zone) == datetime.fromisoformat(shown or wall)


@pytest.mark.parametrize(("wall", "zone", "at", "shift", "shown"), HARD_INSTANTS)
def test_it_has_a_note_just_where_the_wall_time_is_skipped_or_repeated(wall, zone, at, shift, shown):
    note = clock.shift_note(datetime.fromisoformat(wall), zone)
    assert {"none": note == "", "gap": "go forward" in note, "fold": "twice" in note}[shift]


def test_the_second_pass_of_a_repeated_hour_shows_the_same_wall_time():
    second = utc("2026-11-01 06:30")
    assert clock.to_wall(second, "America/New_York") == datetime(2026, 11, 1, 1, 30)
    assert clock.to_wall(second, "America/New_York").fold == 0


def test_a_fold_mark_on_the_wall_time_changes_nothing():
    second = datetime(2026, 11, 1, 1, 30, fold=1)
    assert clock.to_utc(second, "America/New_York") == clock.Instant(utc("2026-11-01 05:30"), "fold")


def test_new_york_and_london_are_four_hours_apart_between_their_changes():
    def hours_apart(day: int, month: int) -> float:
        wall = datetime(2026, month, day, 19, 30)
        between = clock.to_utc(wall, "America/New_York").at - clock.to_utc(wall, "Europe/London").at
        return between / timedelta(hours=1)

    days = [(7, 3), (8, 3), (28, 3), (29, 3), (24, 10), (25, 10), (31, 10), (1, 11)]
    assert [hours_apart(*day) for day in days] == [5, 4, 4, 5, 5, 4, 4, 5]


def test_a_note_says_both_times():
    assert clock.shift_note(datetime(2026, 3, 8, 2, 30), "America/New_York") == (
        "Clocks in America/New_York go forward past 02:30 on 8 March 2026; "
        "it starts at 03:30 by the new clock."
    )
    assert clock.shift_note(datetime(2011, 12, 30, 19, 30), "Pacific/Apia").endswith(
        "it starts at 19:30 on 31 December 2011 by the new clock."
    )
    assert clock.shift_note(datetime(2026, 11, 1, 1, 30), "America/New_York") == (
        "Clocks in America/New_York go back and show 01:30 on 1 November 2026 twice; "
        "it starts the first time, at 05:30 UTC."
    )


@settings(deadline=None)
@given(
    at=st.datetimes(datetime(1975, 1, 1), datetime(2037, 12, 31)),
    zone=st.sampled_from(["America/New_York", "Australia/Lord_Howe", "Pacific/Apia", "Asia/Kolkata", "UTC"]),
)
def test_every_instant_comes_back_except_the_second_pass_of_a_fold(at, zone):
    at = at.replace(tzinfo=UTC)
    there_and_back = clock.to_utc(clock.to_wall(at, zone), zone)
    assert there_and_back.shift != "gap"
    assert there_and_back.at == at or (there_and_back.shift == "fold" and there_and_back.at < at)


@pytest.mark.parametrize(
    ("day", "zone", "hours"),
    [
        (date(2026, 7, 1), "America/New_York", 24),
        (date(2026, 3, 8), "America/New_York", 23),
        (date(2026, 11, 1), "America/New_York", 25),
        (date(2026, 10, 4), "Australia/Lord_Howe", 23.5),
        (date(2023, 9, 3), "America/Santiago", 23),
        (date(2011, 12, 30), "Pacific/Apia", 0),
    ],
)
def test_a_local_day_is_as_long_as_its_clocks_make_it(day, zone, hours):
    assert clock.local_day(day, zone).length == timedelta(hours=hours)


def test_local_days_follow_one_another_without_a_hole():
    days = [clock.local_day(date(2011, 12, day), "Pacific/Apia") for day in (29, 30, 31)]
    assert days[0].end == days[1].start
    assert days[1].end == days[2].start


def test_a_span_holds_its_start_but_not_its_end():
    span = clock.Span(utc("2026-03-01 10:00"), utc("2026-03-01 11:00"))
    assert span.contains(span.start)
    assert span.contains(span.end - timedelta(microseconds=1))
    assert not span.contains(span.end)


def test_spans_that_touch_do_not_overlap():
    noon, one, two = (utc(f"2026-03-01 {hour}:00") for hour in (12, 13, 14))
    assert not clock.Span(noon, one).overlaps(clock.Span(one, two))
    assert clock.Span(noon, two).overlaps(clock.Span(one, two))
    assert not clock.Span(one, one).overlaps(clock.Span(noon, two))


def test_it_refuses_a_span_that_ends_before_it_starts():
    with pytest.raises(clock.BackwardSpan, match=r"ends .* before it starts"):
        clock.Span(utc("2026-03-01 11:00"), utc("2026-03-01 10:00"))


def test_a_misspelt_zone_is_answered_with_the_near_ones():
    with pytest.raises(clock.ZoneUnknown, match="Did you mean America/New_York") as caught:
        clock.zone_named("america/new york")
    assert caught.value.name == "america/new york"


@pytest.mark.parametrize(
    "name", ["", "Nowhere/Atall", "../etc/passwd", "America", "localtime", "/etc/localtime"]
)
def test_it_refuses_what_is_no_zone(name):
    with pytest.raises(clock.ZoneUnknown, match=re.escape(f"no time zone called “{name}”")):
        clock.zone_named(name)


def test_the_zones_offered_are_places_and_each_can_be_used():
    names = clock.zone_names()
    assert names[0] == "UTC"
    assert {"Europe/London", "America/Argentina/Buenos_Aires", "Pacific/Kiritimati"} <= set(names)
    assert not any(name.startswith(("Etc/", "US/", "SystemV/")) for name in names)
    assert all(clock.zone_named(name).key == name for name in names)


def test_it_refuses_a_wall_time_that_carries_an_offset():
    with pytest.raises(clock.UnusableTime, match="a wall time carries no offset"):
        clock.to_utc(datetime(2026, 3, 8, 2, 30, tzinfo=UTC), "UTC")


def test_it_refuses_an_instant_without_an_offset():
    with pytest.raises(clock.UnusableTime, match="does not say its offset"):
        clock.to_wall(datetime(2026, 3, 8, 2, 30), "UTC")


@pytest.mark.parametrize("year", [1, 1899, 2200, 9999])
def test_it_refuses_a_year_no_club_will_see(year):
    with pytest.raises(clock.UnusableTime, match="between 1900 and 2199"):
        clock.to_utc(datetime(year, 1, 1), "Pacific/Kiritimati")
    with pytest.raises(clock.UnusableTime, match="between 1900 and 2199"):
        clock.to_wall(datetime(year, 1, 1, tzinfo=timezone(timedelta(hours=1))), "UTC")
