"""A whole calendar to subscribe to: VCALENDAR bytes with METHOD:PUBLISH, and the ETag that names them.

RFC 5545, RFC 5546 section 3.2.1 and RFC 7986. X-WR-CALNAME is no standard, yet several readers show no other name,
so it is written beside NAME.
"""

import hashlib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from icalendar import Calendar, Component, Event, Timezone, vDDDTypes, vUri

from clubops import clock
from nets.calendars.entries import NetSeries, SingleEvent
from nets.calendars.events import UTC_NAME, Text, series_events, single_event
from nets.calendars.series import lay_out
from nets.calendars.zones import vtimezone

# RFC 5545 section 3.7.3 wants an identifier of the product, unique in the world and the same for ever.
PRODUCT_ID = "-//Club net and relay operations//Calendars 1.0//EN"
_COLOUR_NAME = re.compile(r"[a-z]{3,32}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """What a feed says.

    `horizon` (aware) is how far the clock changes of its nets are written out; keep it at a coarse step, such as the
    end of a year, so that bytes change only when something does. `last_modified` is the oldest the feed can be, for
    a feed with no entries. `color` is a CSS3 name, as RFC 7986 section 5.9 has it. `zone` is the club's.
    """

    name: str
    source_url: str
    zone: str
    horizon: datetime
    last_modified: datetime
    description: str = ""
    refresh: timedelta = timedelta(hours=6)
    color: str = ""
    alarm_before: timedelta | None = None
    series: Sequence[NetSeries] = ()
    singles: Sequence[SingleEvent] = ()


@dataclass(frozen=True, slots=True)
class BuiltFeed:
    """The bytes, their strong ETag with its quotes (RFC 9110 section 8.8.3) and the newest change (UTC)."""

    content: bytes
    etag: str
    last_modified: datetime


def build(feed: Feed) -> BuiltFeed:
    """The calendar of `feed`; the order of its series and events makes no difference.

    Raises `nets.recurrence.RuleError`, `clubops.clock.ClockError`, and `ValueError` for values that no calendar
    can hold (a refresh or a duration of nothing, a colour that is no name, two entries with one identity).
    """
    _require_usable(feed)
    events = _events(feed)
    _require_distinct(events)
    last_modified = max([_seconds(feed.last_modified), *(event.decoded("LAST-MODIFIED") for event in events)])
    calendar = begun("PUBLISH")
    _head(calendar, feed, last_modified)
    for zone in _zones(events, feed):
        calendar.add_component(zone)
    for event in events:
        calendar.add_component(event)
    content = calendar.to_ical(sorted=False)
    return BuiltFeed(content, etag_of(content), last_modified)


def begun(method: str) -> Calendar:
    """A VCALENDAR with what every one must say."""
    calendar = Calendar()
    calendar.add("VERSION", "2.0")
    calendar.add("PRODID", PRODUCT_ID)
    calendar.add("CALSCALE", "GREGORIAN")
    calendar.add("METHOD", method)
    return calendar


def etag_of(content: bytes) -> str:
    """A strong entity tag: equal for equal bytes. A compressed form of them needs another one."""
    return f'"{hashlib.sha256(content).hexdigest()[:40]}"'


def _head(calendar: Calendar, feed: Feed, last_modified: datetime) -> None:
    calendar["NAME"] = Text(feed.name)
    calendar["X-WR-CALNAME"] = Text(feed.name)
    if feed.description:
        calendar["DESCRIPTION"] = Text(feed.description)
    calendar.add("LAST-MODIFIED", last_modified)
    refresh = vDDDTypes(feed.refresh)
    refresh.params["VALUE"] = "DURATION"
    calendar["REFRESH-INTERVAL"] = refresh
    calendar["SOURCE"] = vUri(feed.source_url, params={"VALUE": "URI"})
    if feed.color:
        calendar["COLOR"] = Text(feed.color)


def _events(feed: Feed) -> list[Event]:
    found: list[Event] = []
    for series in sorted(feed.series, key=lambda each: each.identity.uid):
        found.extend(series_events(series, lay_out(series, feed.horizon), feed.alarm_before))
    for single in sorted(feed.singles, key=lambda each: each.identity.uid):
        found.append(single_event(single, feed.alarm_before))
    return found


def _zones(events: Iterable[Event], feed: Feed) -> list[Timezone]:
    """One VTIMEZONE for each TZID in use, from the first time that names it."""
    first: dict[str, datetime] = {}
    last = _seconds(feed.horizon)
    for event in events:
        for name in ("DTSTART", "DTEND", "RECURRENCE-ID"):
            zone = _tzid(event, name)
            if zone is not None:
                at = clock.to_utc(event[name].dt.replace(tzinfo=None), zone).at
                first[zone] = min(first.get(zone, at), at)
                last = max(last, at)
    if not (first or events):
        # A VCALENDAR without any component is not one (RFC 5545 section 3.6).
        first[feed.zone] = _seconds(feed.horizon)
    return [vtimezone(zone, first[zone], last) for zone in sorted(first)]


def _tzid(event: Component, name: str) -> str | None:
    return event[name].params.get("TZID") if name in event else None


def _require_usable(feed: Feed) -> None:
    if feed.refresh <= timedelta(0):
        raise ValueError(f"A feed is refreshed every so often; {feed.refresh} is no such time.")
    if feed.color and not _COLOUR_NAME.fullmatch(feed.color):
        raise ValueError(f"“{feed.color}” is not the name of a CSS colour, such as teal or darkolivegreen.")
    for entry in (*feed.series, *feed.singles, *(change for each in feed.series for change in each.changed)):
        if entry.duration <= timedelta(0):
            raise ValueError(f"An entry of the calendar lasts {entry.duration}; it must last longer than nothing.")


def _require_distinct(events: Iterable[Event]) -> None:
    seen = set()
    for event in events:
        recurrence = event["RECURRENCE-ID"].to_ical() if "RECURRENCE-ID" in event else b""
        if (identity := (str(event["UID"]), recurrence)) in seen:
            raise ValueError(f"Two entries named “{event['SUMMARY']}” have one identity; give each its own seed.")
        seen.add(identity)


def _seconds(at: datetime) -> datetime:
    clock.require_aware(at)
    return at.astimezone(UTC).replace(microsecond=0)
