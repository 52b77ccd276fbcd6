"""The bytes of a feed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest

from nets.calendars.entries import ChangedSession, NetSeries, Party, SingleEvent
from nets.calendars.feed import Feed, build
from tests.calendars.conftest import NOTED

LATER = NOTED + timedelta(days=3)


def lines(feed: Feed) -> list[str]:
    """Unfolded content lines."""
    return build(feed).content.decode().replace("\r\n ", "").split("\r\n")


def cancelled(net: NetSeries) -> NetSeries:
    off = ChangedSession(
        occurrence_date=date(2026, 2, 3),
        starts_at=datetime(2026, 2, 4, 0, 30, tzinfo=UTC),
        duration=net.duration,
        status="cancelled",
        sequence=4,
        last_modified=LATER,
    )
    return replace(net, changed=(off,))


def test_the_head_says_what_rfc_7986_asks(feed: Feed) -> None:
    feed = replace(feed, description="Every net", color="teal", refresh=timedelta(hours=12))
    assert lines(feed)[:13] == [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Club net and relay operations//Calendars 1.0//EN",
        "CALSCALE:GREGORIAN",
        "METHOD:PUBLISH",
        "NAME:Club nets",
        "X-WR-CALNAME:Club nets",
        "DESCRIPTION:Every net",
        "LAST-MODIFIED:20260110T120005Z",
        "REFRESH-INTERVAL;VALUE=DURATION:PT12H",
        "SOURCE;VALUE=URI:https://club.example/calendars/nets.ics",
        "COLOR:teal",
        "BEGIN:VTIMEZONE",
    ]


def test_every_line_ends_in_crlf_and_has_at_most_75_octets(feed: Feed, net: NetSeries) -> None:
    # RFC 5545 section 3.1.
    long = replace(net, title="Überreichweiten ✓ " * 30, description="long " * 100)
    content = build(replace(feed, series=[long])).content
    assert content.endswith(b"END:VCALENDAR\r\n")
    assert content.count(b"\n") == content.count(b"\r\n") == content.count(b"\r")
    assert max(map(len, content.split(b"\r\n"))) <= 75


def test_folding_never_splits_a_character(feed: Feed, net: NetSeries) -> None:
    for padding in range(4):
        title = "x" * padding + "✓" * 200
        content = build(replace(feed, series=[replace(net, title=title)])).content
        assert all(line.decode() for line in content.split(b"\r\n")[:-1])
        assert f"SUMMARY:{title}" in content.decode().replace("\r\n ", "")


def test_text_is_escaped_by_the_rfc_and_by_nothing_else(feed: Feed, net: NetSeries) -> None:
    # RFC 5545 section 3.3.11.
    odd = replace(net, title="a;b,c\\d", description="one\r\ntwo\nthree\rfour \\Net\x07 end")
    assert "SUMMARY:a\\;b\\,c\\\\d" in lines(replace(feed, series=[odd]))
    assert "DESCRIPTION:one\\ntwo\\nthree\\nfour \\\\Net end" in lines(replace(feed, series=[odd]))


def test_a_line_break_in_a_title_cannot_add_a_property(feed: Feed, net: NetSeries) -> None:
    sly = replace(net, title="Net\r\nATTENDEE:mailto:someone@example.org")
    event = icalendar.Calendar.from_ical(build(replace(feed, series=[sly])).content).walk("VEVENT")[0]
    assert "ATTENDEE" not in event
    assert event["SUMMARY"] == "Net\nATTENDEE:mailto:someone@example.org"


def test_a_line_break_in_an_address_is_refused(feed: Feed, net: NetSeries) -> None:
    with pytest.raises(ValueError, match="URI"):
        build(replace(feed, series=[replace(net, url="https://club.example/\r\nX-SLY:1")]))


def test_the_same_input_gives_the_same_bytes_and_tag(feed: Feed) -> None:
    assert build(feed) == build(feed)


def test_the_order_of_the_rows_makes_no_difference(feed: Feed, net: NetSeries, duty: SingleEvent) -> None:
    other, another = replace(net, seed="other"), replace(duty, seed="another")
    one = replace(feed, series=[net, other], singles=[duty, another])
    assert build(one) == build(replace(feed, series=[other, net], singles=[another, duty]))


def test_the_tag_is_strong_and_changes_with_any_change(feed: Feed, net: NetSeries) -> None:
    before = build(feed).etag
    after = build(replace(feed, series=[replace(net, title="Tuesday net.")])).etag
    assert before != after
    assert before.startswith('"')
    assert before.endswith('"')


def test_the_feed_is_as_new_as_its_newest_part(feed: Feed, net: NetSeries) -> None:
    assert build(feed).last_modified == NOTED
    assert build(replace(feed, series=[cancelled(net)])).last_modified == LATER


def test_a_series_is_written_in_its_zone_with_the_rule(feed: Feed) -> None:
    written = lines(feed)
    assert "DTSTART;TZID=America/New_York:20260106T193000" in written
    assert "DTEND;TZID=America/New_York:20260106T203000" in written
    assert "RRULE:FREQ=WEEKLY;BYDAY=TU" in written
    assert "SEQUENCE:2" in written
    assert "DTSTAMP:20260110T120005Z" in written


def test_a_net_in_utc_needs_no_time_zone(feed: Feed, net: NetSeries) -> None:
    written = lines(replace(feed, series=[replace(net, zone="UTC")]))
    assert "DTSTART:20260106T193000Z" in written
    assert "BEGIN:VTIMEZONE" not in written


def test_each_excluded_date_has_a_line_of_its_own(feed: Feed, net: NetSeries) -> None:
    off = replace(net, excluded_dates=(date(2026, 12, 22), date(2026, 12, 29)))
    written = lines(replace(feed, series=[off]))
    assert [line for line in written if line.startswith("EXDATE")] == [
        "EXDATE;TZID=America/New_York:20261222T193000",
        "EXDATE;TZID=America/New_York:20261229T193000",
    ]


def test_a_cancelled_session_stays_visible_above_its_series(feed: Feed, net: NetSeries) -> None:
    calendar = icalendar.Calendar.from_ical(build(replace(feed, series=[cancelled(net)])).content)
    rule, override = calendar.walk("VEVENT")
    assert override["UID"] == rule["UID"]
    assert override["RECURRENCE-ID"].to_ical() == b"20260203T193000"
    assert override["RECURRENCE-ID"].params["TZID"] == "America/New_York"
    assert override["STATUS"] == "CANCELLED"
    assert (rule["SEQUENCE"], override["SEQUENCE"]) == (2, 6)


def test_an_override_says_what_the_series_says_where_it_says_nothing(feed: Feed, net: NetSeries) -> None:
    calendar = icalendar.Calendar.from_ical(build(replace(feed, series=[cancelled(net)])).content)
    rule, override = calendar.walk("VEVENT")
    assert [override[name] for name in ("SUMMARY", "DESCRIPTION", "LOCATION", "URL")] == [
        rule[name] for name in ("SUMMARY", "DESCRIPTION", "LOCATION", "URL")
    ]


def test_an_alarm_comes_before_every_entry_but_a_cancelled_one(feed: Feed, net: NetSeries) -> None:
    feed = replace(feed, series=[cancelled(net)], alarm_before=timedelta(minutes=15))
    events = icalendar.Calendar.from_ical(build(feed).content).walk("VEVENT")
    assert [len(event.walk("VALARM")) for event in events] == [1, 0]
    assert lines(feed).count("TRIGGER:-PT15M") == 1


def test_a_duty_blocks_the_time_and_a_net_does_not(feed: Feed, duty: SingleEvent) -> None:
    events = icalendar.Calendar.from_ical(build(replace(feed, singles=[duty])).content).walk("VEVENT")
    assert {event["SUMMARY"]: event["TRANSP"] for event in events} == {
        "Tuesday net": "TRANSPARENT",
        "Net control, Tuesday net": "OPAQUE",
    }


def test_the_organizer_stands_on_every_entry(feed: Feed, net: NetSeries) -> None:
    feed = replace(feed, organizer=Party("The Club", "nets@club.example"), series=[cancelled(net)])
    events = icalendar.Calendar.from_ical(build(feed).content).walk("VEVENT")
    assert [event["ORGANIZER"] for event in events] == ["mailto:nets@club.example"] * 2


def test_an_empty_feed_is_still_a_calendar(feed: Feed) -> None:
    # RFC 5545 section 3.6: at least one component.
    calendar = icalendar.Calendar.from_ical(build(replace(feed, series=[])).content)
    assert [part.name for part in calendar.subcomponents] == ["VTIMEZONE"]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"refresh": timedelta(0)}, "refreshed"),
        ({"color": "#ff0000"}, "CSS colour"),
        ({"organizer": Party("The Club", "nobody")}, "mail address"),
        ({"last_modified": datetime(2026, 1, 1)}, "offset from UTC"),
    ],
)
def test_it_refuses_what_no_calendar_can_hold(feed: Feed, wrong: dict[str, object], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        build(replace(feed, **wrong))


def test_it_refuses_an_entry_that_takes_no_time(feed: Feed, duty: SingleEvent) -> None:
    with pytest.raises(ValueError, match="longer than nothing"):
        build(replace(feed, singles=[replace(duty, duration=timedelta(0))]))


def test_it_refuses_two_entries_with_one_identity(feed: Feed, duty: SingleEvent) -> None:
    with pytest.raises(ValueError, match="identity"):
        build(replace(feed, singles=[duty, replace(duty, title="Another")]))
