"""Which occurrences stay under the rule and which stand alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from nets.calendars.entries import ChangedSession, NetSeries
from nets.calendars.series import Layout, lay_out
from nets.recurrence import UnreadableRule
from tests.calendars.conftest import HORIZON, NOTED

HOUR = timedelta(hours=1)


def night(net: NetSeries, first: str, rule: str = "FREQ=DAILY", duration: timedelta = HOUR) -> Layout:
    return lay_out(
        replace(net, first_wall=datetime.fromisoformat(first), rule=rule, duration=duration),
        datetime(2026, 12, 1, tzinfo=UTC),
    )


def change(day: date, start: datetime, **more: object) -> ChangedSession:
    fields = {"duration": HOUR, "sequence": 1, "last_modified": NOTED} | more
    return ChangedSession(occurrence_date=day, starts_at=start, **fields)


def starts_alone(layout: Layout) -> dict[date, datetime]:
    return {alone.occurrence_date: alone.starts_at for alone in layout.alone}


def test_an_evening_net_is_one_rule_and_nothing_else(net: NetSeries) -> None:
    assert lay_out(net, HORIZON) == Layout("FREQ=WEEKLY;BYDAY=TU", net.first_wall, (), (), ())


def test_a_skipped_time_is_excluded_and_stands_alone_an_hour_later(net: NetSeries) -> None:
    layout = night(net, "2026-03-01T02:30")
    assert layout.excluded[0] == datetime(2026, 3, 8, 2, 30)
    assert starts_alone(layout)[date(2026, 3, 8)] == datetime(2026, 3, 8, 7, 30, tzinfo=UTC)


def test_a_repeated_time_is_excluded_and_stands_alone_the_first_time(net: NetSeries) -> None:
    layout = night(net, "2026-10-01T01:30", duration=timedelta(minutes=20))
    assert layout.excluded == (datetime(2026, 11, 1, 1, 30),)
    assert starts_alone(layout) == {date(2026, 11, 1): datetime(2026, 11, 1, 5, 30, tzinfo=UTC)}


def test_a_session_that_runs_across_the_change_stands_alone(net: NetSeries) -> None:
    layout = night(net, "2026-03-01T01:00", duration=timedelta(hours=3))
    assert layout.excluded[0] == datetime(2026, 3, 8, 1)


def test_a_session_that_ends_in_the_repeated_hour_stands_alone(net: NetSeries) -> None:
    assert night(net, "2026-10-01T00:45").excluded == (datetime(2026, 11, 1, 0, 45),)


def test_a_net_that_begins_in_the_gap_begins_its_rule_with_the_next_session(net: NetSeries) -> None:
    layout = night(net, "2026-03-08T02:30", "FREQ=WEEKLY;INTERVAL=2")
    assert layout.first_wall == datetime(2026, 3, 22, 2, 30)
    assert layout.excluded == ()
    assert list(starts_alone(layout)) == [date(2026, 3, 8)]


def test_a_start_that_the_rule_does_not_give_is_no_session(net: NetSeries) -> None:
    assert night(net, "2026-01-01T19:30", "FREQ=WEEKLY;BYDAY=TU").first_wall == datetime(2026, 1, 6, 19, 30)


def test_count_becomes_until_the_last_session_and_counts_the_skipped_one(net: NetSeries) -> None:
    assert night(net, "2026-03-07T02:30", "FREQ=DAILY;COUNT=3").rule == "FREQ=DAILY;UNTIL=20260309T063000Z"


def test_the_last_date_of_a_net_becomes_until(net: NetSeries) -> None:
    layout = lay_out(replace(net, last_date=date(2026, 3, 15)), HORIZON)
    assert layout.rule == "FREQ=WEEKLY;BYDAY=TU;UNTIL=20260310T233000Z"


def test_an_excluded_date_is_left_out_and_does_not_stand_alone(net: NetSeries) -> None:
    layout = lay_out(replace(net, excluded_dates=(date(2026, 12, 29),)), HORIZON)
    assert layout.excluded == (datetime(2026, 12, 29, 19, 30),)
    assert layout.alone == ()


def test_an_excluded_first_date_moves_the_start_of_the_rule(net: NetSeries) -> None:
    layout = lay_out(replace(net, excluded_dates=(date(2026, 1, 6),)), HORIZON)
    assert (layout.first_wall, layout.excluded) == (datetime(2026, 1, 13, 19, 30), ())


def test_an_exception_beyond_the_horizon_is_kept(net: NetSeries) -> None:
    layout = lay_out(replace(net, excluded_dates=(date(2031, 4, 8),)), HORIZON)
    assert layout.excluded == (datetime(2031, 4, 8, 19, 30),)


def test_a_moved_session_overrides_the_wall_time_of_the_rule(net: NetSeries) -> None:
    moved = change(date(2026, 2, 3), datetime(2026, 2, 5, 1, tzinfo=UTC))
    assert lay_out(replace(net, changed=(moved,)), HORIZON).overrides == (
        (datetime(2026, 2, 3, 19, 30), moved),
    )


def test_an_added_session_stands_alone(net: NetSeries) -> None:
    added = change(date(2026, 2, 7), datetime(2026, 2, 7, 15, tzinfo=UTC))
    assert starts_alone(lay_out(replace(net, changed=(added,)), HORIZON)) == {
        date(2026, 2, 7): added.starts_at
    }


def test_a_changed_session_in_the_gap_stands_alone_once(net: NetSeries) -> None:
    moved = change(date(2026, 3, 8), datetime(2026, 3, 8, 20, tzinfo=UTC))
    layout = lay_out(
        replace(net, first_wall=datetime(2026, 3, 1, 2, 30), rule="FREQ=DAILY", changed=(moved,)),
        datetime(2026, 4, 1, tzinfo=UTC),
    )
    assert starts_alone(layout)[date(2026, 3, 8)] == moved.starts_at
    assert layout.overrides == ()


def test_a_net_that_begins_after_the_horizon_still_shows(net: NetSeries) -> None:
    later = replace(net, first_wall=datetime(2030, 1, 1, 19, 30))
    assert lay_out(later, HORIZON).first_wall == datetime(2030, 1, 1, 19, 30)


def test_a_rule_that_never_meets_gives_nothing(net: NetSeries) -> None:
    layout = night(net, "2026-01-01T19:30", "FREQ=MONTHLY;BYMONTH=2;BYMONTHDAY=30")
    assert layout == Layout("", None, (), (), ())


def test_a_rule_that_readers_take_differently_is_written_session_by_session(net: NetSeries) -> None:
    layout = night(net, "2026-01-01T19:30", "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13")
    # Friday the 13th came in February, March and November of 2026.
    assert list(starts_alone(layout)) == [date(2026, 2, 13), date(2026, 3, 13), date(2026, 11, 13)]
    assert layout.first_wall is None


def test_a_net_that_meets_on_a_day_its_zone_skipped_is_written_session_by_session(net: NetSeries) -> None:
    samoan = replace(
        net, zone="Pacific/Apia", first_wall=datetime(2011, 12, 28, 20), rule="FREQ=DAILY;COUNT=4"
    )
    assert [alone.occurrence_date.day for alone in lay_out(samoan, HORIZON).alone] == [28, 29, 30, 31]


def test_it_refuses_two_changes_on_one_date(net: NetSeries) -> None:
    twice = change(date(2026, 2, 3), datetime(2026, 2, 5, 1, tzinfo=UTC))
    with pytest.raises(ValueError, match="one date"):
        lay_out(replace(net, changed=(twice, twice)), HORIZON)


def test_it_refuses_a_rule_that_cannot_be_read(net: NetSeries) -> None:
    with pytest.raises(UnreadableRule):
        lay_out(replace(net, rule="every Tuesday"), HORIZON)
