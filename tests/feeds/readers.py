"""Calendars as a reader sees them, by icalendar and recurring-ical-events."""

from __future__ import annotations

import datetime as dt
from typing import NamedTuple

import icalendar
import recurring_ical_events

from nets import agenda
from nets.models import Net, StoredCalendar


class Seen(NamedTuple):
    """One meeting as somebody sees it (UTC)."""

    starts_at: dt.datetime
    ends_at: dt.datetime
    title: str
    called_off: bool


def stored(key: str) -> bytes:
    """The bytes on the shelf."""
    return bytes(StoredCalendar.objects.get(key=key).body)


def events(content: bytes) -> list[icalendar.Event]:
    return icalendar.Calendar.from_ical(content).walk("VEVENT")


def seen_between(content: bytes, start: dt.datetime, end: dt.datetime) -> set[Seen]:
    """What a calendar program shows of the half-open span; cancelled entries are shown struck out."""
    found = recurring_ical_events.of(icalendar.Calendar.from_ical(content)).between(start, end)
    return {seen for event in found if start <= (seen := _seen(event)).starts_at < end}


def _seen(event: icalendar.Event) -> Seen:
    start, end = (event[name].dt.astimezone(dt.UTC) for name in ("DTSTART", "DTEND"))
    return Seen(start, end, str(event["SUMMARY"]), event["STATUS"] == "CANCELLED")


def agenda_between(start: dt.datetime, end: dt.datetime, *nets: Net) -> set[Seen]:
    """The same from the club's own pages, of every net or of the given ones."""
    rows = [row for net in nets or (None,) for row in agenda.between(start, end, net)]
    return {
        Seen(each.session.starts_at, each.session.ends_at, each.session.net.name, each.is_called_off)
        for each in rows
        if start <= each.session.starts_at < end
    }


def identity(event: icalendar.Event) -> tuple[str, str]:
    """What a reader tells entries apart by."""
    recurrence = event["RECURRENCE-ID"].to_ical().decode() if "RECURRENCE-ID" in event else ""
    return str(event["UID"]), recurrence


def significant(event: icalendar.Event) -> tuple[str, ...]:
    """The properties whose change must raise SEQUENCE (RFC 5546 section 2.1.4)."""
    names = ("DTSTART", "DTEND", "RRULE", "EXDATE", "STATUS")
    return tuple(repr(_text(event[name])) for name in names if name in event)


def _text(value: object) -> object:
    if isinstance(value, list):
        return [_text(each) for each in value]
    return value.to_ical()  # type: ignore[attr-defined]


class Program:
    """A calendar program that follows RFC 5546 section 2.1.5: a later SEQUENCE, or DTSTAMP, replaces."""

    def __init__(self) -> None:
        self.entries: dict[str, icalendar.Event] = {}

    def take(self, method: str, event: icalendar.Event) -> None:
        uid, before = str(event["UID"]), self.entries.get(str(event["UID"]))
        if before is not None:
            assert event["SEQUENCE"] >= before["SEQUENCE"]
            if method == "CANCEL":
                assert event["SEQUENCE"] > before["SEQUENCE"]
        self.entries[uid] = event

    @property
    def shown(self) -> set[tuple[dt.datetime, str]]:
        return {
            (event.decoded("DTSTART"), str(event["SUMMARY"]))
            for event in self.entries.values()
            if str(event["STATUS"]) != "CANCELLED"
        }
