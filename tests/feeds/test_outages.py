"""Outages in the calendars of their relay and of the club."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import pytest
import recurring_ical_events
from icalendar import Calendar
from icalendar import Event as Entry

from nets import feeds
from nets.models import StoredCalendar
from relays import outages
from relays.models import Outage, Relay
from relays.outages import Terms
from tests.conftest import NOW, Cast

HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)
TOMORROW = NOW + DAY
WORK = Terms(TOMORROW, TOMORROW + 4 * HOUR, "New antenna")
SILENT = Terms(NOW - HOUR, None, "No answer since noon", kind="unplanned")


@pytest.fixture
def shelf(relay: Relay) -> Callable[..., list[Entry]]:
    """`shelf(now, key)` builds what is stale and gives the outages a calendar shows."""

    def read(now: dt.datetime = NOW, key: str = f"relay:{relay.pk}") -> list[Entry]:
        feeds.rebuild_changed(now=now)
        calendar = Calendar.from_ical(bytes(StoredCalendar.objects.get(key=key).body))
        return [
            event
            for event in calendar.walk("VEVENT")
            if "antenna" in event["DESCRIPTION"] or "noon" in event["DESCRIPTION"]
        ]

    return read


@pytest.mark.parametrize("key", ["relay", "club"])
def test_an_outage_stands_in_the_relays_and_the_clubs_calendar(
    relay: Relay, cast: Cast, shelf: Callable[..., list[Entry]], key: str
) -> None:
    outages.enter(relay, WORK, by=cast.steward, now=NOW)
    (event,) = shelf(key=f"relay:{relay.pk}" if key == "relay" else "club")
    assert event["SUMMARY"] == "Ridge 2 m: off the air"
    assert (event["DTSTART"].dt, event["DTEND"].dt) == (WORK.starts_at, WORK.ends_at)
    assert event["TRANSP"] == "TRANSPARENT"
    assert "QZ2STW" not in event.to_ical().decode()


def test_a_moved_outage_keeps_its_identity_and_counts_up(
    relay: Relay, shelf: Callable[..., list[Entry]]
) -> None:
    outage = outages.enter(relay, WORK, by=None, now=NOW)
    (before,) = shelf()
    outages.change(outage, replace(WORK, ends_at=TOMORROW + 9 * HOUR), now=NOW)
    (after,) = shelf()
    assert (after["UID"], after["SEQUENCE"] > before["SEQUENCE"]) == (before["UID"], True)


def test_one_called_off_is_told_and_later_forgotten(relay: Relay, shelf: Callable[..., list[Entry]]) -> None:
    outage = outages.enter(relay, WORK, by=None, now=NOW)
    shelf()
    outages.call_off(outage, now=NOW)
    (event,) = shelf()
    assert event["STATUS"] == "CANCELLED"
    assert shelf(NOW + 130 * DAY) == []


def test_one_without_an_end_is_shown_a_day_longer_every_day(
    relay: Relay, shelf: Callable[..., list[Entry]]
) -> None:
    outage = outages.enter(relay, SILENT, by=None, now=NOW)
    numbers = []
    for day in range(3):
        (event,) = shelf(NOW + day * DAY)
        assert event["DTSTART"].dt <= NOW + day * DAY < event["DTEND"].dt
        assert "nobody knows until when" in event["SUMMARY"]
        numbers.append(event["SEQUENCE"])
    outages.end(outage, at=NOW + 2 * DAY, now=NOW + 2 * DAY)
    (event,) = shelf(NOW + 2 * DAY)
    numbers.append(event["SEQUENCE"])
    assert numbers == sorted(set(numbers))
    assert event["DTEND"].dt - event["DTSTART"].dt == 2 * DAY + HOUR


def test_building_again_changes_no_byte(relay: Relay, shelf: Callable[..., list[Entry]]) -> None:
    outages.enter(relay, WORK, by=None, now=NOW)
    shelf()
    before = bytes(StoredCalendar.objects.get(key="club").body)
    shelf(NOW + HOUR)
    assert bytes(StoredCalendar.objects.get(key="club").body) == before


def test_a_reader_that_expands_the_calendar_finds_it_once(relay: Relay) -> None:
    outages.enter(relay, WORK, by=None, now=NOW)
    feeds.rebuild_changed(now=NOW)
    calendar = Calendar.from_ical(bytes(StoredCalendar.objects.get(key=f"relay:{relay.pk}").body))
    (found,) = recurring_ical_events.of(calendar).between(TOMORROW, TOMORROW + 4 * HOUR)
    assert found["SUMMARY"] == "Ridge 2 m: off the air"


def test_a_change_touches_the_relays_and_the_clubs_calendars(
    relay: Relay, django_capture_on_commit_callbacks: Callable
) -> None:
    feeds.rebuild_changed(now=NOW)
    with django_capture_on_commit_callbacks(execute=True):
        Outage.objects.create(relay=relay, starts_at=TOMORROW, ends_at=TOMORROW + HOUR, reason="antenna")
    stale = {row.key for row in StoredCalendar.objects.all() if row.touched != row.built}
    assert stale == {"club", "club/alarms", f"relay:{relay.pk}", f"relay:{relay.pk}/alarms"}
