"""A session during an outage of its relay is a conflict with a way out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.test import Client

from nets import conflicts, schedule
from nets.models import Duty, Net, Session
from relays.models import Outage, Relay
from tests.conftest import NOW, Cast
from tests.nets.conftest import another

HOUR = dt.timedelta(hours=1)


def outage(relay: Relay, session: Session, **fields: Any) -> Outage:
    """From an hour before the session until an hour behind it."""
    span = {"starts_at": session.starts_at - HOUR, "ends_at": session.ends_at + HOUR}
    return Outage.objects.create(relay=relay, **({"reason": "New antenna"} | span | fields))


def found(session: Session) -> list[conflicts.Conflict]:
    return [each for each in conflicts.of_session(session, now=NOW) if each.kind == "outage"]


def test_both_sides_are_named_with_a_way_out(relay: Relay, session: Session) -> None:
    outage(relay, session)
    (conflict,) = found(session)
    assert conflict.sides == ("Ridge Net", "Ridge 2 m")
    assert "is off the air from Tuesday 3 March 2026, 18:30 New York time until" in conflict.sentence
    assert conflict.sentence.endswith("New antenna.")
    assert conflict.way_out.startswith(
        "Move the session to another relay, or to a time after Tuesday 3 March 2026, 21:30"
    )


def test_one_whose_end_nobody_knows_promises_no_hour(relay: Relay, session: Session) -> None:
    outage(relay, session, ends_at=None, kind="unplanned")
    (conflict,) = found(session)
    assert "nobody knows until when" in conflict.sentence
    assert conflict.way_out == "Move the session to another relay, or call it off."


def test_a_relay_that_is_only_reduced_asks_for_a_look_at_the_path(relay: Relay, session: Session) -> None:
    outage(relay, session, effect="reduced")
    (conflict,) = found(session)
    assert "on the air, reduced" in conflict.sentence
    assert conflict.way_out.startswith("Ask net control to check the path")


@pytest.mark.parametrize(
    "fields", [{"called_off_at": NOW}, {"ends_at": dt.datetime(2026, 3, 4, 0, 30, tzinfo=dt.UTC)}]
)
def test_one_called_off_or_over_by_then_is_none(
    relay: Relay, session: Session, fields: dict[str, Any]
) -> None:
    outage(relay, session, **fields)
    assert found(session) == []


def test_a_session_on_another_relay_that_evening_is_left_alone(relay: Relay, session: Session) -> None:
    outage(relay, session)
    other = another(relay, "valley-2m", name="Valley 2 m")
    Session.objects.filter(pk=session.pk).update(relay=other)
    session.refresh_from_db()
    assert found(session) == []


def test_many_sessions_in_one_outage_are_one_conflict(net: Net, relay: Relay, session: Session) -> None:
    schedule.plan_sessions(net, now=NOW)
    outage(relay, session, ends_at=session.ends_at + dt.timedelta(days=15))
    (conflict,) = [each for each in conflicts.coming(now=NOW) if each.kind == "outage"]
    assert (conflict.times, conflict.at) == (3, session.starts_at)


def test_all_outages_take_one_query(
    net: Net, relay: Relay, session: Session, django_assert_max_num_queries: Any
) -> None:
    schedule.plan_sessions(net, now=NOW)
    conflicts.coming(now=NOW)
    with django_assert_max_num_queries(12) as none:
        conflicts.coming(now=NOW)
    for each in net.sessions.all():
        outage(relay, each)
    assert any(each.kind == "outage" for each in conflicts.coming(now=NOW))
    with django_assert_max_num_queries(len(none)):
        conflicts.coming(now=NOW)


@pytest.mark.parametrize("who", ["member", "net control", "steward"])
def test_everybody_sees_it_on_the_page_of_the_session(
    who: str, relay: Relay, session: Session, as_reader: Callable[[str], Client]
) -> None:
    outage(relay, session)
    page = as_reader(who).get(f"/nets/ridge-net/{session.occurrence_date}/").content.decode()
    assert "Ridge 2 m is off the air" in page
    assert "New antenna" in page


@pytest.mark.parametrize("address", ["/", "/start/", "/nets/ridge-net/"])
def test_whoever_reads_the_agenda_sees_it_and_no_name(
    address: str, relay: Relay, session: Session, cast: Cast, client: Client
) -> None:
    outage(relay, session, reported_by=cast.steward)
    with time_machine.travel(NOW, tick=False):
        page = client.get(address).content.decode()
    assert "It is off the air then: New antenna." in page
    assert "QZ2STW" not in page


def test_who_is_on_duty_sees_it_beside_the_duty(
    relay: Relay, session: Session, cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    outage(relay, session)
    with time_machine.travel(NOW, tick=False):
        page = as_reader("net control").get("/my-duties/").content.decode()
    assert "Ridge 2 m is off the air</b> from Tuesday 3 March 2026" in page.replace("\N{NO-BREAK SPACE}", " ")


def test_home_says_that_a_relay_is_silent_now(relay: Relay, session: Session, client: Client) -> None:
    outage(relay, session, starts_at=NOW - HOUR)
    with time_machine.travel(NOW, tick=False):
        page = client.get("/").content.decode()
    assert "until Tuesday 3 March 2026, 21:30 New York time</a>" in page.replace("\N{NO-BREAK SPACE}", " ")
