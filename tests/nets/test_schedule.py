"""Sessions follow the rule, across both clock changes, and keep what people have promised."""

from __future__ import annotations

import datetime as dt

from clubops import clock
from nets import schedule
from nets.models import Duty, Net, Session
from tests.conftest import NOW, Cast


def starts(net: Net) -> list[str]:
    return [f"{each.starts_at:%Y-%m-%dT%H:%MZ}" for each in net.sessions.all()]


def test_it_plans_twelve_weeks(net: Net) -> None:
    assert schedule.plan_sessions(net, now=NOW).made == 12


def test_it_keeps_the_wall_time_when_clocks_go_forward(net: Net) -> None:
    """New York 19:30 on 3 and 10 March 2026 (tzdata)."""
    schedule.plan_sessions(net, now=NOW)
    assert starts(net)[:2] == ["2026-03-04T00:30Z", "2026-03-10T23:30Z"]


def test_it_keeps_the_wall_time_when_clocks_go_back(net: Net) -> None:
    """New York 19:30 on 27 October and 3 November 2026 (tzdata)."""
    schedule.plan_sessions(net, now=dt.datetime(2026, 10, 26, tzinfo=dt.UTC))
    assert starts(net)[:2] == ["2026-10-27T23:30Z", "2026-11-04T00:30Z"]


def test_planning_twice_changes_nothing(net: Net) -> None:
    schedule.plan_sessions(net, now=NOW)
    before = list(Session.objects.values())
    assert schedule.plan_sessions(net, now=NOW) == schedule.Planned()
    assert list(Session.objects.values()) == before


def test_a_later_hour_moves_the_sessions_and_keeps_their_duties(
    net: Net, cast: Cast, session: Session
) -> None:
    duty = Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    net.start_time = dt.time(20)
    net.save()
    assert schedule.plan_sessions(net, now=NOW).retimed == 12
    duty.refresh_from_db()
    assert clock.to_wall(duty.session.starts_at, net.zone) == dt.datetime(2026, 3, 3, 20)


def test_another_weekday_calls_off_what_people_promised_and_removes_the_rest(
    net: Net, cast: Cast, session: Session
) -> None:
    Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    net.rule = "FREQ=WEEKLY;BYDAY=TH"
    net.save()
    planned = schedule.plan_sessions(net, now=NOW)
    session.refresh_from_db()
    assert (planned.called_off, planned.removed) == (1, 11)
    assert session.state == Session.State.CANCELLED


def test_a_session_that_has_begun_is_history(net: Net, session: Session) -> None:
    net.start_time = dt.time(9)
    net.save()
    schedule.plan_sessions(net, now=session.starts_at + dt.timedelta(minutes=1))
    session.refresh_from_db()
    assert f"{session.starts_at:%H:%M}" == "00:30"


def test_a_session_moved_by_hand_stays_moved(net: Net, session: Session) -> None:
    session.moved_to = session.starts_at + dt.timedelta(hours=2)
    schedule.amend(session)
    schedule.plan_sessions(net, now=NOW)
    session.refresh_from_db()
    assert session.starts_at == session.moved_to
    assert session.sequence == 1


def test_a_session_moved_to_another_day_is_not_made_again(net: Net, session: Session) -> None:
    session.moved_to = session.starts_at - dt.timedelta(hours=13)
    schedule.amend(session)
    schedule.plan_sessions(net, now=NOW)
    assert net.sessions.filter(occurrence_date=session.occurrence_date).count() == 1


def test_it_stops_on_the_last_date(net: Net) -> None:
    net.ends_on = dt.date(2026, 3, 10)
    net.save()
    schedule.plan_sessions(net, now=NOW)
    assert len(starts(net)) == 2


def test_calling_off_twice_is_one_change(session: Session) -> None:
    assert schedule.call_off(session, note="Storm.")
    assert not schedule.call_off(session, note="Storm.")
    assert session.sequence == 1


def test_an_extra_session_is_kept_though_the_rule_does_not_give_it(net: Net, session: Session) -> None:
    extra = Session(net=net, occurrence_date=dt.date(2026, 3, 6))
    schedule.amend(extra)
    schedule.plan_sessions(net, now=NOW)
    extra.refresh_from_db()
    assert extra.is_extra
    assert extra.state == Session.State.SCHEDULED
