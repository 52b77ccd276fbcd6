"""A changed rule leaves what was held as it was, keeps what people promised, and can be taken back."""

from __future__ import annotations

import datetime as dt

import icalendar
import pytest
import recurring_ical_events

from nets import feeds, rule_changes, schedule
from nets.models import Duty, EarlierRule, Net, Session, StoredCalendar
from relays.models import Relay
from tests.conftest import NOW, Cast

TODAY = dt.date(2026, 3, 3)
THURSDAYS = "FREQ=WEEKLY;BYDAY=TH"


def edit(net: Net, *, now: dt.datetime = NOW, **values: object) -> schedule.Planned:
    """Edit a fresh copy of the net, as a form does."""
    edited = Net.objects.get(pk=net.pk)
    for name, value in ({"first_date": TODAY} | values).items():
        setattr(edited, name, value)
    done = rule_changes.adopt(edited, now=now)
    net.refresh_from_db()
    return done


def dates(net: Net, since: dt.date = TODAY, count: int = 4) -> list[str]:
    rows = net.sessions.filter(occurrence_date__gte=since, state=Session.State.SCHEDULED)
    return [f"{each.occurrence_date:%m-%d}" for each in rows.order_by("occurrence_date")[:count]]


def rules(net: Net) -> list[tuple[str, str, str]]:
    return [
        (each.rule, f"{each.first_date:%m-%d}", f"{each.last_date:%m-%d}" if each.last_date else "")
        for each in schedule.rules_of(Net.objects.get(pk=net.pk))
    ]


def test_the_old_rule_ends_the_day_before_the_new_one_begins(net: Net, session: Session) -> None:
    edit(net, rule=THURSDAYS, first_date=dt.date(2026, 3, 12))
    assert rules(net) == [("FREQ=WEEKLY;BYDAY=TU", "02-10", "03-11"), (THURSDAYS, "03-12", "")]
    assert dates(net) == ["03-03", "03-10", "03-12", "03-19"]


def test_each_rule_is_a_series_of_its_own_and_the_old_one_keeps_its_name(net: Net, session: Session) -> None:
    before, sequence = net.series_id, net.sequence
    edit(net, rule=THURSDAYS)
    old = net.earlier_rules.get()
    assert (old.series_id, old.sequence) == (before, sequence + 1)
    assert net.series_id != before


def test_a_session_remembers_the_rule_it_was_planned_under(net: Net, session: Session, relay: Relay) -> None:
    later = session.starts_at + dt.timedelta(hours=2)
    edit(net, now=later, relay=None, simplex_mhz="146.550", first_date=dt.date(2026, 3, 4))
    session.refresh_from_db()
    assert session.relay_in_use == relay
    assert net.sessions.get(occurrence_date=dt.date(2026, 3, 10)).relay_in_use is None


def test_a_session_that_has_begun_today_is_not_changed_by_a_rule_from_today(
    net: Net, session: Session
) -> None:
    on_the_air = session.starts_at + dt.timedelta(minutes=10)
    edit(net, now=on_the_air, start_time=dt.time(21))
    session.refresh_from_db()
    assert (session.earlier_rule.last_date, f"{session.starts_at:%H:%M}") == (TODAY, "00:30")
    assert net.sessions.filter(occurrence_date=TODAY).count() == 1


def test_another_hour_keeps_sessions_and_duties(net: Net, session: Session, cast: Cast) -> None:
    duty = Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    done = edit(net, start_time=dt.time(20))
    duty.refresh_from_db()
    assert (done.retimed, done.made, done.called_off, done.removed) == (12, 0, 0, 0)
    assert f"{duty.session.starts_at:%H:%M}" == "01:00"


def test_what_does_not_change_the_meetings_makes_no_new_rule(net: Net, session: Session) -> None:
    edit(net, script="Good evening, all.", first_date=dt.date(2026, 3, 10))
    assert not EarlierRule.objects.exists()
    assert (net.first_date, net.script) == (dt.date(2026, 2, 10), "Good evening, all.")


def test_the_same_rule_in_other_words_is_the_same_rule(net: Net, session: Session) -> None:
    net.rule = "FREQ=WEEKLY"
    net.save()
    edit(net, rule="FREQ=WEEKLY;BYDAY=TU")
    assert not EarlierRule.objects.exists()


def test_every_other_week_keeps_its_weeks(net: Net, session: Session) -> None:
    """From Tuesday 10 March: 10 and 24 March, 7 April; another hour from 17 March must not shift them."""
    edit(net, rule="FREQ=WEEKLY;INTERVAL=2;BYDAY=TU", first_date=dt.date(2026, 3, 10))
    assert dates(net) == ["03-03", "03-10", "03-24", "04-07"]
    edit(
        net,
        now=dt.datetime(2026, 3, 11, 12, tzinfo=dt.UTC),
        rule="FREQ=WEEKLY;INTERVAL=2;BYDAY=TU",
        first_date=dt.date(2026, 3, 24),
        start_time=dt.time(20),
    )
    assert dates(net, dt.date(2026, 3, 24)) == ["03-24", "04-07", "04-21", "05-05"]


def test_the_other_weeks_are_another_rule(net: Net, session: Session) -> None:
    every_other = "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU"
    edit(net, rule=every_other)
    later = dt.datetime(2026, 3, 4, 12, tzinfo=dt.UTC)
    edit(net, now=later, rule=every_other, first_date=dt.date(2026, 3, 10))
    assert dates(net, dt.date(2026, 3, 4)) == ["03-10", "03-24", "04-07", "04-21"]


def test_a_change_announced_for_later_may_be_put_off(net: Net, session: Session) -> None:
    edit(net, rule=THURSDAYS, first_date=dt.date(2026, 3, 12))
    edit(net, rule=THURSDAYS, first_date=dt.date(2026, 3, 26))
    assert rules(net)[0][2] == "03-25"
    assert dates(net, dt.date(2026, 3, 10)) == ["03-10", "03-17", "03-24", "03-26"]


def test_a_change_announced_for_later_may_be_taken_back_without_a_trace(net: Net, session: Session) -> None:
    series = net.series_id
    edit(net, rule=THURSDAYS, first_date=dt.date(2026, 3, 12))
    edit(net, rule="FREQ=WEEKLY;BYDAY=TU", first_date=dt.date(2026, 3, 12))
    assert not EarlierRule.objects.exists()
    assert (net.series_id, net.first_date) == (series, dt.date(2026, 2, 10))
    assert dates(net) == ["03-03", "03-10", "03-17", "03-24"]


def test_taking_a_change_back_gives_people_their_duties_back(net: Net, session: Session, cast: Cast) -> None:
    duty = Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    assert edit(net, rule=THURSDAYS).called_off == 1
    assert edit(net, rule="FREQ=WEEKLY;BYDAY=TU").put_back == 1
    duty.session.refresh_from_db()
    assert duty.session.state == Session.State.SCHEDULED


def test_a_net_that_has_not_begun_is_simply_changed(net: Net) -> None:
    net.first_date = dt.date(2026, 4, 7)
    net.save()
    series = net.series_id
    edit(net, rule=THURSDAYS, first_date=dt.date(2026, 4, 9))
    assert rules(net) == [(THURSDAYS, "04-09", "")]
    assert net.series_id == series


def test_so_many_times_in_all_go_on_being_counted(net: Net, session: Session) -> None:
    """Six times from 10 February: three are held before 3 March, so three are left at another hour."""
    net.rule = "FREQ=WEEKLY;COUNT=6;BYDAY=TU"
    net.save()
    left = rule_changes.remaining_rule(net, TODAY)
    assert str(left) == "FREQ=WEEKLY;BYDAY=TU;COUNT=3"
    edit(net, rule=str(left), start_time=dt.time(20))
    assert dates(net) == ["03-03", "03-10", "03-17"]


def test_a_pause_stays_a_pause(net: Net, session: Session) -> None:
    """Switched off on 4 March and on again on 1 April: nothing appears in between, then or later."""
    edit(net, now=dt.datetime(2026, 3, 4, 12, tzinfo=dt.UTC), is_active=False)
    edit(net, now=dt.datetime(2026, 4, 1, 12, tzinfo=dt.UTC), is_active=True, first_date=dt.date(2026, 4, 1))
    assert rules(net) == [("FREQ=WEEKLY;BYDAY=TU", "02-10", "03-03"), ("FREQ=WEEKLY;BYDAY=TU", "04-01", "")]


def test_what_had_ended_begins_anew(net: Net, session: Session) -> None:
    edit(net, ends_on=dt.date(2026, 3, 10))
    edit(net, now=dt.datetime(2026, 4, 1, 12, tzinfo=dt.UTC), ends_on=None, first_date=dt.date(2026, 4, 1))
    assert [row[2] for row in rules(net)] == ["03-10", ""]
    assert dates(net, dt.date(2026, 3, 11), 1) == ["04-07"]


def test_working_it_out_twice_gives_the_same(net: Net, session: Session) -> None:
    net.rule, net.first_date = THURSDAYS, TODAY
    first = rule_changes.succeed(net, now=NOW)
    again = rule_changes.succeed(net, now=NOW)
    assert [each.last_date for each in first.earlier] == [each.last_date for each in again.earlier]
    assert (net.rule, net.first_date) == (THURSDAYS, TODAY)


@pytest.mark.parametrize("weeks", [0, 3, 11])
def test_repeating_an_edit_changes_nothing(net: Net, session: Session, weeks: int) -> None:
    since = TODAY + dt.timedelta(weeks=weeks)
    edit(net, rule=THURSDAYS, first_date=since)
    before = list(Session.objects.values())
    assert edit(net, rule=THURSDAYS, first_date=since) == schedule.Planned()
    assert list(Session.objects.values()) == before


# In calendars --------------------------------------------------------------------------------------


def in_calendars(net: Net, now: dt.datetime) -> dict[str, tuple[str, str]]:
    """What a calendar program makes of the net's feed in February to April: date to (start in UTC, UID)."""
    feeds.rebuild_changed(now=now)
    body = StoredCalendar.objects.get(net=net, has_alarms=False).body
    calendar = recurring_ical_events.of(icalendar.Calendar.from_ical(bytes(body)))
    found = calendar.between(dt.datetime(2026, 2, 1, tzinfo=dt.UTC), dt.datetime(2026, 5, 1, tzinfo=dt.UTC))
    return {
        f"{each['DTSTART'].dt:%m-%d}": (f"{each['DTSTART'].dt.astimezone(dt.UTC):%H:%M}", str(each["UID"]))
        for each in found
        if each["STATUS"] == "CONFIRMED"
    }


def test_what_was_held_stays_in_calendars_when_the_rule_changes(net: Net, session: Session) -> None:
    before = in_calendars(net, NOW)
    edit(net, rule=THURSDAYS, start_time=dt.time(18), first_date=dt.date(2026, 3, 12))
    after = in_calendars(net, NOW + dt.timedelta(minutes=1))
    held = ["02-10", "02-17", "02-24", "03-03", "03-10"]
    assert [after[day] for day in held] == [before[day] for day in held]
    assert [day for day in after if day > "03-10"] == [
        "03-12",
        "03-19",
        "03-26",
        "04-02",
        "04-09",
        "04-16",
        "04-23",
        "04-30",
    ]
    assert after["03-12"][1] != after["03-10"][1]


def test_a_session_called_off_long_ago_stays_called_off_when_the_rule_changes(
    net: Net, session: Session
) -> None:
    schedule.call_off(session, note="Ice.")
    assert "03-03" not in in_calendars(net, NOW)
    edit(net, now=NOW + dt.timedelta(days=2), rule=THURSDAYS, first_date=dt.date(2026, 3, 12))
    assert "03-03" not in in_calendars(net, NOW + dt.timedelta(days=2))
    assert "03-03" not in in_calendars(net, NOW + dt.timedelta(days=200))


def test_the_identity_of_a_duty_does_not_depend_on_the_rule(net: Net, session: Session, cast: Cast) -> None:
    duty = Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    before = feeds.duty_event(duty).identity
    edit(net, start_time=dt.time(20))
    after = feeds.duty_event(Duty.objects.get()).identity
    assert (after.uid, after.sequence >= before.sequence) == (before.uid, True)
