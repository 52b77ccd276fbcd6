"""A rota may reach further ahead than sessions are planned; an edit of the net reaches as far."""

from __future__ import annotations

import datetime as dt

import pytest

from clubops import clock
from nets import conflicts, foretold, rule_changes, schedule
from nets.models import Absence, Duty, Net, Session
from tests.conftest import NOW, Cast

YEAR = 52
TODAY = dt.date(2026, 3, 3)


@pytest.fixture
def rota(net: Net, cast: Cast) -> Net:
    """A year of sessions, and somebody in the chair of every one."""
    schedule.plan_sessions(net, now=NOW, weeks=YEAR)
    rows = [
        Duty(session=each, role=Duty.Role.NET_CONTROL, member=cast.net_control) for each in net.sessions.all()
    ]
    Duty.objects.bulk_create(rows)
    return net


def edited(net: Net, **values: object) -> Net:
    row = Net.objects.get(pk=net.pk)
    for name, value in ({"first_date": TODAY} | values).items():
        setattr(row, name, value)
    return row


def states(net: Net) -> list[tuple[str, int]]:
    rows = [each.state for each in net.sessions.all()]
    return sorted((state, rows.count(state)) for state in set(rows))


def test_another_weekday_calls_off_the_whole_rota(rota: Net) -> None:
    done = rule_changes.adopt(edited(rota, rule="FREQ=WEEKLY;BYDAY=WE"), now=NOW)
    assert (done.called_off, done.made) == (YEAR, 12)
    assert states(rota) == [("cancelled", YEAR), ("scheduled", 12)]


def test_another_hour_retimes_the_whole_rota(rota: Net) -> None:
    assert rule_changes.adopt(edited(rota, start_time=dt.time(20)), now=NOW).retimed == YEAR
    hours = {clock.to_wall(each.starts_at, rota.zone).time() for each in rota.sessions.all()}
    assert hours == {dt.time(20)}


def test_switching_the_net_off_calls_off_the_whole_rota(rota: Net) -> None:
    rule_changes.adopt(edited(rota, is_active=False), now=NOW)
    assert states(rota) == [("cancelled", YEAR)]


def test_taking_it_back_puts_the_whole_rota_back(rota: Net) -> None:
    rule_changes.adopt(edited(rota, is_active=False), now=NOW)
    assert rule_changes.adopt(edited(rota, is_active=True), now=NOW).put_back == YEAR


def test_it_counts_every_duty_before_it_is_saved(rota: Net) -> None:
    said = " ".join(foretold.foretell(edited(rota, rule="FREQ=WEEKLY;BYDAY=WE"), now=NOW).sentences)
    assert f"{YEAR} coming sessions on Tuesday give way to 12 on Wednesday" in said
    assert "later ones are planned as their time comes" in said
    assert f"{YEAR} duties will be called off" in said


def test_a_conflict_at_the_end_of_the_rota_is_found(rota: Net, cast: Cast) -> None:
    far = rota.sessions.last().occurrence_date
    Absence.objects.create(member=cast.net_control, first_date=far, last_date=far)
    found = [each for each in conflicts.coming(now=NOW) if each.kind == "in the chair and away"]
    assert [each.at for each in found] == [rota.sessions.last().starts_at]


def test_planning_makes_no_more_than_twelve_weeks(rota: Net) -> None:
    """The year's last session is there; those before it that were removed are not made again for that."""
    rota.sessions.filter(starts_at__gt=NOW + dt.timedelta(weeks=20)).exclude(
        pk=rota.sessions.last().pk
    ).delete()
    assert schedule.plan_sessions(rota, now=NOW) == schedule.Planned()


def test_a_session_moved_to_an_earlier_week_follows_its_own_date(net: Net, cast: Cast) -> None:
    schedule.plan_sessions(net, now=NOW)
    last = net.sessions.last()
    last.moved_to = NOW + dt.timedelta(hours=3)
    schedule.amend(last)
    assert schedule.plan_sessions(net, now=NOW) == schedule.Planned()
    assert Session.objects.filter(state=Session.State.CANCELLED).count() == 0
