"""Upkeep in the private calendar of whoever is asked, and in no other."""

from __future__ import annotations

import datetime as dt

import icalendar
import pytest
from django.urls import reverse

from nets import feeds
from nets.feeds import upkeep
from nets.models import UpkeepEntry
from relays.upkeep import due, records
from tests.conftest import NOW
from tests.upkeep.conftest import DAY, TODAY, make_task

DUE_ON = dt.date(2026, 3, 10)


@pytest.fixture
def browser(battery, cast, client):
    """The member's private calendar, as a program fetches it after each building."""
    feeds.renew(cast.member, now=NOW)
    address = feeds.member_address(cast.member)

    def fetch(now=NOW):
        feeds.rebuild_changed(now=now)
        calendar = icalendar.Calendar.from_ical(client.get(address).content)
        return [event for event in calendar.walk("VEVENT") if str(event["SUMMARY"]).startswith("Upkeep")]

    return fetch


def test_it_is_an_all_day_entry_on_the_day_it_is_due(browser, battery):
    (event,) = browser()
    assert event["DTSTART"].to_ical() == b"20260310"
    assert event["DTSTART"].params["VALUE"] == "DATE"
    assert event["DTEND"].to_ical() == b"20260311"
    assert (event["SUMMARY"], event["LOCATION"]) == ("Upkeep: Battery", "High Ridge")
    assert (event["TRANSP"], event["STATUS"], event["SEQUENCE"]) == ("TRANSPARENT", "CONFIRMED", 0)
    assert event["URL"].endswith(f"/upkeep/{battery.pk}/")


def test_it_names_the_dangers(browser):
    (event,) = browser()
    assert "batteries, remote site" in event["DESCRIPTION"]


def test_it_moves_on_when_it_is_done_under_the_same_name(browser, battery, cast):
    (before,) = browser()
    records.record(battery, records.Visit(TODAY, cast.member), now=NOW)
    (after,) = browser(NOW + dt.timedelta(minutes=5))
    assert after["UID"] == before["UID"]
    assert after["SEQUENCE"] == 1
    assert after["DTSTART"].dt == dt.date(2026, 6, 3)


def test_it_is_struck_out_when_somebody_else_is_asked_and_comes_back_with_a_higher_number(
    browser, battery, cast
):
    (first,) = browser()
    battery.responsible = cast.manager
    battery.save()
    (gone,) = browser(NOW + DAY)
    battery.responsible = cast.member
    battery.save()
    (back,) = browser(NOW + 2 * DAY)
    assert [each["STATUS"] for each in (first, gone, back)] == ["CONFIRMED", "CANCELLED", "CONFIRMED"]
    assert [each["SEQUENCE"] for each in (first, gone, back)] == [0, 1, 2]
    assert len({str(each["UID"]) for each in (first, gone, back)}) == 1


def test_what_was_struck_out_long_ago_is_left_out(browser, battery):
    browser()
    battery.is_active = False
    battery.save()
    assert len(browser(NOW + DAY)) == 1
    assert browser(NOW + 130 * DAY) == []


def test_a_task_that_was_deleted_is_struck_out_too(browser, site, cast):
    task = make_task(site, name="Paint", responsible=cast.member)
    browser()
    task.delete()
    statuses = {str(event["SUMMARY"]): event["STATUS"] for event in browser(NOW + DAY)}
    assert statuses == {"Upkeep: Battery": "CONFIRMED", "Upkeep: Paint": "CANCELLED"}


def test_putting_it_off_moves_it_and_building_again_does_not(browser, battery):
    browser()
    due.shift([battery], days=7, today=TODAY)
    (moved,) = browser(NOW + DAY)
    (same,) = browser(NOW + 2 * DAY)
    assert moved["DTSTART"].dt == DUE_ON + 7 * DAY
    assert moved.to_ical() == same.to_ical()


def test_an_alarm_of_minutes_does_not_ring_in_the_night_before(browser, cast):
    feeds.set_alarm(cast.member, 30)
    (event,) = browser(NOW + DAY)
    assert event.walk("VALARM") == []


def test_two_workers_at_once_write_one_entry(battery, cast):
    """The second read the shelf before the first wrote to it: what it inserts is passed over."""
    upkeep.follow([cast.member.pk], now=NOW)
    before = list(UpkeepEntry.objects.values())
    row = UpkeepEntry.objects.get()
    UpkeepEntry.objects.bulk_create(
        [UpkeepEntry(seed=row.seed, member=row.member, digest=row.digest, created_at=NOW, modified_at=NOW)],
        ignore_conflicts=True,
    )
    assert upkeep.follow([cast.member.pk], now=NOW) == 0
    assert list(UpkeepEntry.objects.values()) == before


def test_no_public_calendar_holds_it_or_a_persons_name(browser, net, relay, client):
    browser()
    for name, args in (
        ("nets:club_feed", []),
        ("nets:net_feed", [net.slug]),
        ("nets:relay_feed", [relay.slug]),
    ):
        text = client.get(reverse(name, args=args)).content.decode()
        assert text.startswith("BEGIN:VCALENDAR")
        assert "Battery" not in text
        assert "QZ2MEM" not in text


def test_nobody_elses_calendar_holds_it(browser, cast, client):
    feeds.renew(cast.net_control, now=NOW)
    browser()
    assert b"Battery" not in client.get(feeds.member_address(cast.net_control)).content
