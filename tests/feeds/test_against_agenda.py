"""A calendar read back by other people's programs says what the club's own pages say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal

import pytest

from nets import feeds, schedule
from nets.models import Duty, FeedKey, Net, Session
from relays.models import Relay
from tests.conftest import NOW, Cast
from tests.feeds.conftest import TWELVE_WEEKS
from tests.feeds.readers import agenda_between, events, seen_between, stored

# Before the clocks change in New York (8 March and 1 November 2026), Dublin (29 March, 25 October) and Lord
# Howe (4 October and 5 April, by half an hour): IANA time zone database, 2025b.
SPRING = NOW
AUTUMN = dt.datetime(2026, 9, 8, 12, tzinfo=dt.UTC)
HARD_NETS = [
    ("America/New_York", dt.time(19, 30), "FREQ=WEEKLY;BYDAY=TU"),
    ("America/New_York", dt.time(2, 30), "FREQ=WEEKLY;BYDAY=SU"),
    ("America/New_York", dt.time(1, 30), "FREQ=WEEKLY;BYDAY=SU"),
    ("America/New_York", dt.time(23, 45), "FREQ=WEEKLY;BYDAY=SA"),
    ("Europe/Dublin", dt.time(1, 15), "FREQ=WEEKLY;BYDAY=SU"),
    ("Australia/Lord_Howe", dt.time(1, 45), "FREQ=WEEKLY;BYDAY=SU"),
    ("Australia/Lord_Howe", dt.time(2, 15), "FREQ=DAILY"),
    ("Asia/Kathmandu", dt.time(0, 15), "FREQ=MONTHLY;BYDAY=-1SU"),
]


@pytest.mark.parametrize("now", [SPRING, AUTUMN], ids=["spring", "autumn"])
@pytest.mark.parametrize(("zone", "hour", "rule"), HARD_NETS)
def test_across_a_clock_change(zone: str, hour: dt.time, rule: str, now: dt.datetime, net: Net) -> None:
    first_date = now.date() + dt.timedelta(days=1)
    Net.objects.filter(pk=net.pk).update(zone=zone, start_time=hour, rule=rule, first_date=first_date)
    net.refresh_from_db()
    schedule.plan_sessions(net, now=now)
    feeds.rebuild_changed(now=now)
    expected = agenda_between(now, now + TWELVE_WEEKS)
    assert len(expected) >= 2
    assert seen_between(stored(f"net:{net.pk}"), now, now + TWELVE_WEEKS) == expected


@pytest.fixture
def busy_club(session: Session, net: Net, site: object, relay: Relay, other_relay: Relay) -> list[Net]:
    """Two nets with a session called off, one moved, one on another relay and one added by hand."""
    simplex = Net.objects.create(
        name="Simplex Sunday",
        slug="simplex-sunday",
        simplex_mhz=Decimal("146.520"),
        rule="FREQ=MONTHLY;BYDAY=1SU",
        first_date=dt.date(2026, 3, 1),
        start_time=dt.time(16),
        zone="America/New_York",
    )
    schedule.plan_all(now=NOW)
    second, third, fourth, fifth = net.sessions.order_by("starts_at")[1:5]
    schedule.call_off(second, note="Field day.")
    third.moved_to = third.starts_at + dt.timedelta(hours=26)
    schedule.amend(third)
    fourth.relay = other_relay
    schedule.amend(fourth)
    extra = Session(net=net, occurrence_date=fifth.occurrence_date + dt.timedelta(days=2))
    schedule.amend(extra)
    feeds.rebuild_changed(now=NOW)
    return [net, simplex]


@pytest.fixture
def other_relay(relay: Relay) -> Relay:
    return Relay.objects.create(
        site=relay.site,
        name="Valley 70 cm",
        slug="valley-70cm",
        call_sign="QZ2VLY",
        output_mhz=Decimal("444.100"),
        input_mhz=Decimal("449.100"),
    )


def test_the_calendar_of_the_club(busy_club: list[Net]) -> None:
    span = (NOW, NOW + TWELVE_WEEKS)
    assert seen_between(stored("club"), *span) == agenda_between(*span)


def test_the_calendar_of_each_net(busy_club: list[Net]) -> None:
    span = (NOW, NOW + TWELVE_WEEKS)
    for net in busy_club:
        assert seen_between(stored(f"net:{net.pk}"), *span) == agenda_between(*span, net)


def test_a_relay_shows_the_nets_that_meet_on_it(busy_club: list[Net], relay: Relay) -> None:
    span = (NOW, NOW + TWELVE_WEEKS)
    assert seen_between(stored(f"relay:{relay.pk}"), *span) == agenda_between(*span, busy_club[0])


def test_a_relay_shows_the_one_session_that_comes_to_it(busy_club: list[Net], other_relay: Relay) -> None:
    visit = Session.objects.get(relay=other_relay)
    [event] = events(stored(f"relay:{other_relay.pk}"))
    assert event["DTSTART"].dt == visit.starts_at
    assert str(event["SUMMARY"]) == "Ridge Net"
    assert str(event["LOCATION"]) == "Valley 70 cm, 444.100 MHz"


def test_a_session_elsewhere_says_where(busy_club: list[Net], other_relay: Relay) -> None:
    [event] = [
        each for each in events(stored(f"net:{busy_club[0].pk}")) if "444.100" in str(each["LOCATION"])
    ]
    assert "RECURRENCE-ID" in event


def test_a_member_sees_their_own_duties_and_nobody_elses(
    key: FeedKey, net: Net, cast: Cast, give: Callable[..., Duty]
) -> None:
    first, second = net.sessions.order_by("starts_at")[:2]
    mine = give(first, cast.net_control)
    give(second, cast.manager)
    give(first, cast.officer, Duty.Role.BACKUP)
    feeds.rebuild_changed(now=NOW)
    [event] = events(stored(f"member:{cast.net_control.pk}"))
    assert (event["DTSTART"].dt, event["DTEND"].dt) == (first.starts_at, first.ends_at)
    assert str(event["SUMMARY"]) == f"Ridge Net: {mine.get_role_display()}"
    assert event["TRANSP"] == "OPAQUE"


def test_a_net_that_was_given_up_ends_with_its_last_session(built: Net) -> None:
    later = NOW + dt.timedelta(days=15)
    built.is_active = False
    built.save()
    schedule.plan_sessions(built, now=later)
    feeds.rebuild_changed(now=later)
    assert not seen_between(stored("club"), later, later + TWELVE_WEEKS)
    assert len(seen_between(stored("club"), NOW, later)) == 3


def test_an_earlier_rule_is_a_series_of_its_own(net: Net, session: Session) -> None:
    last_date = dt.date(2026, 3, 17)
    net.earlier_rules.create(
        relay=net.relay,
        rule=net.rule,
        first_date=net.first_date,
        start_time=net.start_time,
        zone=net.zone,
        series_id=net.public_id,
        last_date=last_date,
        created_at=net.created_at,
    )
    net.first_date, net.start_time = dt.date(2026, 3, 24), dt.time(20, 0)
    net.save()
    schedule.plan_sessions(net, now=NOW)
    feeds.rebuild_changed(now=NOW)
    content = stored(f"net:{net.pk}")
    assert len({str(event["UID"]) for event in events(content)}) == 2
    assert seen_between(content, NOW, NOW + TWELVE_WEEKS) == agenda_between(NOW, NOW + TWELVE_WEEKS)
