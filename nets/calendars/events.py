"""VEVENTs out of the plain values of `entries` (RFC 5545 section 3.6.1).

A series is written in its own zone (TZID); whatever stands alone is written in UTC, which nobody can misread.
DTSTAMP is the time of the last change and not of the writing, so that the same input gives the same bytes.
"""

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from urllib.parse import quote

from icalendar import Alarm, Event, vCalAddress, vRecur, vText

from clubops import clock
from nets.calendars.entries import ChangedSession, NetSeries, Party, SingleEvent, Status
from nets.calendars.identity import Identity
from nets.calendars.series import Alone, Layout

# The one name that RFC 5545 writes as a trailing Z instead of a TZID.
UTC_NAME = "UTC"
_PLAIN_IN_MAILTO = "@!$'*+-._~"


class Text(vText):
    """TEXT, escaped by RFC 5545 section 3.3.11 alone.

    The library turns the two characters backslash and N into a line break before it escapes, which spoils
    such text. Control characters other than a line break and a tab are not TEXT and are left out.
    """

    def to_ical(self) -> bytes:
        text = self.replace("\r\n", "\n").replace("\r", "\n")
        text = "".join(letter for letter in text if letter in "\n\t" or not _is_control(letter))
        for plain, escaped in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
            text = text.replace(plain, escaped)
        return text.encode()


def _is_control(letter: str) -> bool:
    return ord(letter) < 0x20 or 0x7F <= ord(letter) <= 0x9F


def series_events(
    series: NetSeries, layout: Layout, alarm_before: timedelta | None = None
) -> Iterator[Event]:
    """The VEVENTs of a net: the rule, then its overrides, then the sessions that stand alone."""
    if layout.first_wall is not None:
        yield _rule_event(series, layout, layout.first_wall, alarm_before)
    for wall, change in layout.overrides:
        yield _override_event(series, wall, change, alarm_before)
    for alone in layout.alone:
        yield _alone_event(series, alone, alarm_before)


def _rule_event(
    series: NetSeries, layout: Layout, first_wall: datetime, alarm_before: timedelta | None
) -> Event:
    event = _begun(series.identity, series.created, series.last_modified)
    _add_wall(event, "DTSTART", first_wall, series.zone)
    _add_wall(event, "DTEND", first_wall + series.duration, series.zone)
    event.add("RRULE", vRecur.from_ical(layout.rule))
    for wall in layout.excluded:
        _add_wall(event, "EXDATE", wall, series.zone)
    _describe(event, series.title, series.description, series.location, series.url, series.categories)
    _finish(event, "confirmed", busy=False, alarm_before=alarm_before)
    return event


def _override_event(
    series: NetSeries, wall: datetime, change: ChangedSession, alarm_before: timedelta | None
) -> Event:
    identity = Identity(series.identity.uid, series.identity.sequence + change.sequence)
    event = _begun(identity, series.created, max(series.last_modified, change.last_modified))
    _add_wall(event, "RECURRENCE-ID", wall, series.zone)
    _add_span(event, change.starts_at, change.duration, series.zone)
    _describe_session(event, series, change)
    _finish(event, change.status, busy=False, alarm_before=alarm_before)
    return event


def _alone_event(series: NetSeries, alone: Alone, alarm_before: timedelta | None) -> Event:
    change = alone.change
    identity = series.identity_alone(alone.occurrence_date, change.sequence if change else 0)
    modified = max(series.last_modified, change.last_modified) if change else series.last_modified
    event = _begun(identity, series.created, modified)
    _add_span(event, alone.starts_at, change.duration if change else series.duration, UTC_NAME)
    _describe_session(event, series, change)
    _finish(event, change.status if change else "confirmed", busy=False, alarm_before=alarm_before)
    return event


def single_event(entry: SingleEvent, alarm_before: timedelta | None = None) -> Event:
    """The VEVENT of something that happens once."""
    event = _begun(entry.identity, entry.created, entry.last_modified)
    if entry.all_day:
        # An alarm so long before a day begins would ring in the night.
        _add_days(event, entry.starts_at, entry.duration)
        alarm_before = None
    else:
        _add_span(event, entry.starts_at, entry.duration, UTC_NAME)
    _describe(event, entry.title, entry.description, entry.location, entry.url, entry.categories)
    _finish(event, entry.status, busy=entry.busy, alarm_before=alarm_before)
    return event


def _begun(identity: Identity, created: datetime, modified: datetime) -> Event:
    event = Event()
    event.add("UID", identity.uid)
    event.add("DTSTAMP", whole_seconds(modified))
    event.add("CREATED", whole_seconds(min(created, modified)))
    event.add("LAST-MODIFIED", whole_seconds(modified))
    event.add("SEQUENCE", identity.sequence)
    return event


def whole_seconds(at: datetime) -> datetime:
    """In UTC, as calendars write times. Raises `clubops.clock.UnusableTime` for a naive one."""
    clock.require_aware(at)
    return at.astimezone(UTC).replace(microsecond=0)


def _add_wall(event: Event, name: str, wall: datetime, zone: str) -> None:
    """A naive wall time as a property of its own line: some readers see only the first value of a list."""
    if zone == UTC_NAME:
        event.add(name, wall.replace(tzinfo=UTC))
    else:
        event.add(name, wall, {"TZID": zone})


def _add_span(event: Event, starts_at: datetime, duration: timedelta, zone: str) -> None:
    """DTSTART and DTEND in the zone where both exist once on its clocks, else in UTC."""
    start = whole_seconds(starts_at)
    ends = (start, start + duration)
    walls = [clock.to_wall(at, zone) for at in ends]
    if any(clock.to_utc(wall, zone).shift != "none" for wall in walls):
        zone, walls = UTC_NAME, [at.replace(tzinfo=None) for at in ends]
    for name, wall in zip(("DTSTART", "DTEND"), walls, strict=True):
        _add_wall(event, name, wall, zone)


def _add_days(event: Event, starts_at: datetime, duration: timedelta) -> None:
    """DTSTART and DTEND as dates, the end not included (RFC 5545 section 3.6.1)."""
    first = whole_seconds(starts_at).date()
    event.add("DTSTART", first)
    event.add("DTEND", first + timedelta(days=max(duration.days, 1)))


def _describe_session(event: Event, series: NetSeries, change: ChangedSession | None) -> None:
    own = (change.title, change.description, change.location, change.url) if change else (None,) * 4
    general = (series.title, series.description, series.location, series.url)
    title, description, location, url = (
        of_series if of_session is None else of_session
        for of_session, of_series in zip(own, general, strict=True)
    )
    _describe(event, title, description, location, url, series.categories)


def _describe(
    event: Event, title: str, description: str, location: str, url: str, categories: Iterable[str]
) -> None:
    event["SUMMARY"] = Text(title)
    if description:
        event["DESCRIPTION"] = Text(description)
    if location:
        event["LOCATION"] = Text(location)
    if url:
        event.add("URL", url)
    if categories := tuple(categories):
        event.add("CATEGORIES", categories)


def _finish(event: Event, status: Status, *, busy: bool, alarm_before: timedelta | None) -> None:
    event.add("STATUS", status.upper())
    event.add("TRANSP", "OPAQUE" if busy and status != "cancelled" else "TRANSPARENT")
    if alarm_before is not None and status != "cancelled":
        alarm = Alarm()
        alarm.add("ACTION", "DISPLAY")
        alarm.add("TRIGGER", -alarm_before)
        alarm["DESCRIPTION"] = Text(str(event["SUMMARY"]))
        event.add_component(alarm)


def address_of(party: Party) -> vCalAddress:
    """The value of ORGANIZER or ATTENDEE. Raises `ValueError` for an address that is none."""
    local, at, domain = party.address.rpartition("@")
    if not (local and at and domain) or any(letter <= " " for letter in party.address):
        raise ValueError(f"“{party.address}” is not a mail address, such as someone@example.org.")
    # RFC 6068 section 2: what is not a plain letter of an address is percent-encoded in its URI.
    uri = f"mailto:{quote(party.address, safe=_PLAIN_IN_MAILTO)}"
    name = " ".join(party.name.replace('"', "'").split())
    return vCalAddress(uri, params={"CN": name} if name else {})
