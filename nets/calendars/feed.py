"""A whole calendar to subscribe to: VCALENDAR bytes with METHOD:PUBLISH, and the ETag that names them.

RFC 5545, RFC 5546 section 3.2.1 and RFC 7986. X-WR-CALNAME is no standard, yet several readers show no
other name, so it is written beside NAME.
"""

import hashlib
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from icalendar import Calendar, Event, Timezone, vDuration, vUri

from clubops import clock
from nets.calendars.entries import NetSeries, Party, SingleEvent
from nets.calendars.events import UTC_NAME, Text, address_of, series_events, single_event, whole_seconds
from nets.calendars.series import Layout, lay_out
from nets.calendars.zones import vtimezone

# RFC 5545 section 3.7.3 wants an identifier of the product, unique in the world and the same for ever.
PRODUCT_ID = "-//Club net and relay operations//Calendars 1.0//EN"
_LaidOut = tuple[NetSeries, Layout]
_COLOUR_NAME = re.compile(r"[a-z]{3,32}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """What a feed says.

    `horizon` (aware) is how far the clock changes of its nets are written out; keep it at a coarse step,
    such as the end of a year, so that bytes change only when something does. `last_modified` is the oldest
    the feed can be, for a feed with no entries or one that lost some. `color` is a CSS3 name, as RFC 7986
    section 5.9 has it. `zone` is the club's. `organizer` is the club's own public address, which RFC 5546
    section 3.2.1 wants on everything published.
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
    organizer: Party | None = None
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

    Raises `nets.recurrence.RuleError`, `clubops.clock.ClockError`, and `ValueError` for values that no
    calendar can hold (a refresh or a duration of nothing, a colour that is no name, an organizer without an
    address, two entries with one identity).
    """
    _require_usable(feed)
    layouts = [(series, lay_out(series, feed.horizon)) for series in feed.series]
    layouts.sort(key=lambda pair: pair[0].identity.uid)
    events = _events(feed, layouts)
    _require_distinct(events)
    last_modified = max(map(whole_seconds, _modified(feed)))
    calendar = begun("PUBLISH")
    _head(calendar, feed, last_modified)
    for component in (*_zones(feed, layouts, empty=not events), *events):
        calendar.add_component(component)
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
    calendar["REFRESH-INTERVAL"] = vDuration(feed.refresh, params={"VALUE": "DURATION"})
    calendar["SOURCE"] = vUri(feed.source_url, params={"VALUE": "URI"})
    if feed.color:
        calendar["COLOR"] = Text(feed.color)


def _events(feed: Feed, layouts: Iterable[_LaidOut]) -> list[Event]:
    found: list[Event] = []
    for series, layout in layouts:
        found.extend(series_events(series, layout, feed.alarm_before))
    singles = sorted(feed.singles, key=lambda each: each.identity.uid)
    found.extend(single_event(single, feed.alarm_before) for single in singles)
    if feed.organizer is not None:
        for event in found:
            event["ORGANIZER"] = address_of(feed.organizer)
    return found


def _zones(feed: Feed, layouts: Iterable[_LaidOut], *, empty: bool) -> list[Timezone]:
    """One VTIMEZONE for each TZID in use, from the first to the last time that may name it."""
    named: dict[str, set[datetime]] = {}
    for series, layout in layouts:
        if layout.first_wall is not None and series.zone != UTC_NAME:
            walls = (layout.first_wall, *(wall for wall, _ in layout.overrides))
            named.setdefault(series.zone, {feed.horizon}).update(
                (clock.to_utc(wall, series.zone).at for wall in walls),
                (change.starts_at for _, change in layout.overrides),
            )
    if empty:
        # A VCALENDAR without any component is not one (RFC 5545 section 3.6).
        named[feed.zone] = {feed.horizon}
    return [vtimezone(zone, min(times), max(times)) for zone, times in sorted(named.items())]


def _modified(feed: Feed) -> Iterator[datetime]:
    yield feed.last_modified
    for series in feed.series:
        yield series.last_modified
        yield from (change.last_modified for change in series.changed)
    yield from (single.last_modified for single in feed.singles)


def _durations(feed: Feed) -> Iterator[timedelta]:
    for series in feed.series:
        yield series.duration
        yield from (change.duration for change in series.changed)
    yield from (single.duration for single in feed.singles)


def _require_usable(feed: Feed) -> None:
    if feed.refresh <= timedelta(0):
        raise ValueError(f"A feed is refreshed every so often; {feed.refresh} is no such time.")
    if feed.color and not _COLOUR_NAME.fullmatch(feed.color):
        raise ValueError(f"“{feed.color}” is not the name of a CSS colour, such as teal or darkolivegreen.")
    for duration in _durations(feed):
        if duration <= timedelta(0):
            raise ValueError(f"An entry of the calendar lasts {duration}; it must last longer than nothing.")


def _require_distinct(events: Iterable[Event]) -> None:
    seen = set()
    for event in events:
        recurrence = event["RECURRENCE-ID"].to_ical() if "RECURRENCE-ID" in event else b""
        identity = (str(event["UID"]), recurrence)
        if identity in seen:
            raise ValueError(
                f"Two entries named “{event['SUMMARY']}” have one identity; give each its own seed."
            )
        seen.add(identity)
