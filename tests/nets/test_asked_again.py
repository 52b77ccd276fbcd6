"""A yes to one time is no yes to another; who is away is not counted on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from nets import departures, foretold, rule_changes
from nets.models import Duty, Net, Session
from tests.conftest import NOW, Cast

CONFIRMED, ASSIGNED = Duty.State.CONFIRMED, Duty.State.ASSIGNED


@pytest.fixture
def duty(session: Session, cast: Cast) -> Duty:
    """The net control has said that they will be there on 10 March at 19:30."""
    evening = session.net.sessions.get(occurrence_date=dt.date(2026, 3, 10))
    return Duty.objects.create(
        session=evening, role="net_control", member=cast.net_control, state=CONFIRMED, answered_at=NOW
    )


def now_is(duty: Duty) -> tuple[str, int]:
    duty.refresh_from_db()
    return duty.state, duty.sequence


def at(hour: int, minute: int) -> dt.time:
    return dt.time(hour, minute)


@pytest.mark.parametrize(
    ("time", "then"),
    [
        (at(20, 0), (CONFIRMED, 0)),
        (at(19, 0), (CONFIRMED, 0)),
        (at(20, 1), (ASSIGNED, 1)),
        (at(3, 30), (ASSIGNED, 1)),
    ],
)
def test_a_move_by_more_than_half_an_hour_asks_again(
    duty: Duty, time: dt.time, then: tuple[str, int]
) -> None:
    departures.move(duty.session, wall=dt.datetime.combine(dt.date(2026, 3, 10), time), now=NOW)
    assert now_is(duty) == then


def test_who_is_asked_again_has_given_no_answer(duty: Duty) -> None:
    departures.move(duty.session, wall=dt.datetime(2026, 3, 11, 9), now=NOW)
    duty.refresh_from_db()
    assert duty.answered_at is None


def test_a_no_stays_a_no(duty: Duty) -> None:
    Duty.objects.update(state=Duty.State.DECLINED)
    departures.move(duty.session, wall=dt.datetime(2026, 3, 11, 9), now=NOW)
    assert now_is(duty) == (Duty.State.DECLINED, 0)


def edited(net: Net, time: dt.time) -> Net:
    row = Net.objects.get(pk=net.pk)
    row.start_time, row.first_date = time, dt.date(2026, 3, 3)
    return row


def test_another_hour_of_the_net_asks_again(net: Net, duty: Duty) -> None:
    rule_changes.adopt(edited(net, at(21, 0)), now=NOW)
    assert now_is(duty) == (ASSIGNED, 1)


def test_a_quarter_of_an_hour_does_not(net: Net, duty: Duty) -> None:
    rule_changes.adopt(edited(net, at(19, 45)), now=NOW)
    assert now_is(duty) == (CONFIRMED, 0)


def test_it_is_said_before_the_net_is_saved(net: Net, duty: Duty) -> None:
    said = " ".join(foretold.foretell(edited(net, at(21, 0)), now=NOW).sentences)
    assert "1 person who said yes to the old time will be asked again: QZ2NCS" in said
    assert "asked again" not in " ".join(foretold.foretell(edited(net, at(19, 45)), now=NOW).sentences)


@time_machine.travel(NOW, tick=False)
def test_days_away_over_a_duty_of_ones_own_are_pointed_out(
    duty: Duty, as_reader: Callable[[str], Client]
) -> None:
    given = {"first_date": "2026-03-10", "last_date": "2026-03-12"}
    page = as_reader("net control").post(reverse("nets:my_duties"), given, follow=True).content.decode()
    assert "On days away you still have: net control of Ridge Net, 10 March 2026." in page
    assert "You are away then" in page
    assert now_is(duty) == (CONFIRMED, 0)


@time_machine.travel(NOW, tick=False)
def test_other_days_away_are_simply_noted(duty: Duty, as_reader: Callable[[str], Client]) -> None:
    given = {"first_date": "2026-03-12", "last_date": "2026-03-12"}
    page = as_reader("net control").post(reverse("nets:my_duties"), given, follow=True).content.decode()
    assert "you still have" not in page
    assert "You are away then" not in page
