"""What must hold for every rule, start, zone and span; and agreement with python-dateutil, from outside."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import takewhile

import pytest
from dateutil.rrule import rrulestr
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from clubops import clock
from nets import recurrence
from nets.recurrence import DAY_CODES, Rule
from nets.recurrence import expansion as expansion_module

# A slow or busy machine must not fail a property.
steady = settings(deadline=None)

ZONES = [
    "UTC",
    "America/New_York",
    "Europe/London",
    "Australia/Sydney",
    "Australia/Lord_Howe",
    "Asia/Kolkata",
    "America/St_Johns",
    "Pacific/Chatham",
    "Pacific/Kiritimati",
    "Pacific/Apia",
    "America/Phoenix",
]
EARLY_AND_LATE = st.sampled_from(
    [time(0, 0), time(1, 30), time(2, 15), time(2, 30), time(19, 30), time(23, 45)]
)
DAYS = st.lists(st.sampled_from(DAY_CODES), min_size=1, max_size=7, unique=True)
COUNTS = st.integers(1, 60)
MAYBE_COUNTS = st.none() | COUNTS
MONTHS = st.lists(st.integers(1, 12), max_size=11, unique=True)


def parts(**given_parts) -> str:
    return ";".join(f"{name}={value}" for name, value in given_parts.items() if value)


def joined(values) -> str:
    return ",".join(str(value) for value in values)


@st.composite
def rules(draw, count=MAYBE_COUNTS):
    """Rules as clubs use them and stranger ones, where dateutil reads RFC 5545 as it is written.

    It takes BYSETPOS of a first week from the start of the series, not of the week, and BYDAY=TU,1MO as the
    days that are both; those two are left out here and tested on their own.
    """
    frequency = draw(st.sampled_from(["DAILY", "WEEKLY", "MONTHLY"]))
    chosen = {"FREQ": frequency, "INTERVAL": draw(st.integers(1, 5)), "BYMONTH": joined(draw(MONTHS))}
    if frequency == "WEEKLY":
        chosen["BYDAY"] = joined(draw(DAYS | st.just([])))
        chosen["WKST"] = draw(st.sampled_from(DAY_CODES))
    elif frequency == "DAILY":
        chosen["BYDAY"] = joined(draw(DAYS | st.just([])))
    elif draw(st.booleans()):
        month_days = st.integers(1, 31) | st.integers(-31, -1)
        chosen["BYMONTHDAY"] = joined(draw(st.lists(month_days, min_size=1, max_size=4, unique=True)))
    else:
        ordinals = st.sampled_from(["1", "2", "3", "4", "5", "-1", "-2"])
        numbered = st.builds(str.__add__, ordinals, st.sampled_from(DAY_CODES))
        chosen["BYDAY"] = joined(draw(DAYS | st.lists(numbered, min_size=1, max_size=4, unique=True)))
        chosen["BYSETPOS"] = joined(
            draw(st.just([]) | st.lists(st.sampled_from([1, 2, 3, -1, -2]), unique=True))
        )
    chosen["COUNT"] = draw(count)
    return Rule.parse(parts(**chosen))


STARTS = st.builds(datetime.combine, st.dates(date(2005, 1, 1), date(2026, 12, 31)), EARLY_AND_LATE)
MOMENTS = st.datetimes(datetime(2004, 1, 1), datetime(2027, 12, 31), timezones=st.just(UTC))
SERIES = st.fixed_dictionaries({"first_wall": STARTS, "zone": st.sampled_from(ZONES)})


def meet(rule, series, since, until, **more):
    return recurrence.occurrences(rule, **series, from_utc=since, until_utc=until, **more)


@steady
@given(rule=rules(), series=SERIES, moments=st.lists(MOMENTS, min_size=3, max_size=3))
def test_a_span_cut_in_two_gives_the_same_meetings(rule, series, moments):
    first, middle, last = sorted(moments)
    assert meet(rule, series, first, last) == meet(rule, series, first, middle) + meet(
        rule, series, middle, last
    )


@steady
@given(rule=rules(), series=SERIES, since=MOMENTS)
def test_a_late_span_gives_what_counting_from_the_start_gives(rule, series, since):
    until = since + timedelta(weeks=12)
    from_start = meet(rule, series, datetime(2000, 1, 1, tzinfo=UTC), until)
    assert meet(rule, series, since, until) == [item for item in from_start if item.starts_at >= since]


@steady
@given(rule=rules(), series=SERIES, since=MOMENTS)
def test_every_meeting_is_at_the_clock_time_of_the_series(rule, series, since):
    for item in meet(rule, series, since, since + timedelta(weeks=30)):
        shown = clock.to_wall(item.starts_at, series["zone"])
        assert item.wall.time() == series["first_wall"].time()
        assert shown == item.wall if item.shift != "gap" else shown > item.wall


@steady
@given(rule=rules(), series=SERIES, since=MOMENTS)
def test_meetings_come_in_order_and_each_once(rule, series, since):
    got = meet(rule, series, since, since + timedelta(weeks=30))
    assert got == sorted(got, key=lambda item: (item.starts_at, item.wall))
    assert len({item.wall for item in got}) == len(got)
    assert all(item.wall >= series["first_wall"] for item in got)


@steady
@given(rule=rules(COUNTS), series=SERIES)
def test_count_gives_the_first_so_many_of_the_endless_rule(rule, series):
    span = datetime(2000, 1, 1, tzinfo=UTC), datetime(2030, 1, 1, tzinfo=UTC)
    endless = replace(rule, count=None)
    assert meet(rule, series, *span) == meet(endless, series, *span)[: rule.count]


@steady
@given(rule=rules(), series=SERIES)
def test_until_in_place_of_count_gives_the_same_meetings(rule, series):
    assume(recurrence.first_occurrence(rule, **series) is not None)
    written = recurrence.for_feed(rule, **series)
    span = datetime(2000, 1, 1, tzinfo=UTC), datetime(2040, 1, 1, tzinfo=UTC)
    assert written.count is None
    assert meet(written, series, *span) == meet(rule, series, *span)


@steady
@given(rule=rules(st.none()), series=SERIES, since=MOMENTS)
def test_a_series_may_be_begun_at_its_first_meeting(rule, series, since):
    first = recurrence.first_occurrence(rule, **series)
    assume(first is not None)
    again = {**series, "first_wall": first.wall}
    anchored = rule.anchored(series["first_wall"])
    until = since + timedelta(weeks=30)
    assert meet(anchored, again, since, until) == meet(rule, series, since, until)


@steady
@given(rule=rules(), series=SERIES, data=st.data())
def test_leaving_one_out_leaves_the_others_as_they_were(rule, series, data):
    since = series["first_wall"].replace(tzinfo=UTC) - timedelta(days=1)
    until = since + timedelta(weeks=156)
    got = meet(rule, series, since, until)
    gone = data.draw(st.sampled_from([item.wall for item in got] or [series["first_wall"]]))
    kept = meet(rule, series, since, until, excluded_walls=[gone])
    assert kept == [item for item in got if item.wall != gone]


@steady
@given(rule=rules())
def test_a_rule_is_read_back_from_its_text(rule):
    assert Rule.parse(str(rule)) == rule


@steady
@given(rule=rules(), first_wall=STARTS, weeks=st.integers(0, 1200))
def test_dateutil_gives_the_same_wall_times(rule, first_wall, weeks):
    since = first_wall + timedelta(weeks=weeks)
    until = min(since + timedelta(weeks=60), datetime(2060, 1, 1))
    series = {"first_wall": first_wall, "zone": "UTC"}
    # dateutil looks for a next date until the year 9999: seconds, where a rule has none
    assume(recurrence.first_occurrence(rule, **series) is not None)
    outside = takewhile(lambda wall: wall < until, rrulestr(str(rule), dtstart=first_wall))
    inside = meet(rule, series, since.replace(tzinfo=UTC), until.replace(tzinfo=UTC))
    assert [item.wall for item in inside] == [wall for wall in outside if wall >= since]


@pytest.mark.parametrize(
    "rule", ["FREQ=DAILY", "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU", "FREQ=MONTHLY;BYDAY=1TH,3TH"]
)
def test_the_next_twelve_weeks_of_an_old_net_look_at_those_weeks_alone(rule, monkeypatch):
    looked_at = []
    period = expansion_module._period
    monkeypatch.setattr(
        expansion_module,
        "_period",
        lambda *given_args: looked_at.append(period(*given_args)) or looked_at[-1],
    )
    since = datetime(2026, 3, 1, tzinfo=UTC)
    series = {"first_wall": datetime(1996, 3, 5, 19, 30), "zone": "America/New_York"}
    assert len(meet(Rule.parse(rule), series, since, since + timedelta(weeks=12))) >= 5
    assert sum(len(days) for days in looked_at) < 160
