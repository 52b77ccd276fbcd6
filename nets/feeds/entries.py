"""Rows as the plain values that calendars are made from. No entry names a person's place."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db.models import Q
from django.urls import reverse

from clubops import clock
from nets import rule_changes, schedule
from nets.calendars import entries
from nets.models import CalendarEntry, Duty, EarlierRule, Net, Session

# What is cancelled, changed or gone stays this long, so that every reader has seen it.
KEPT = dt.timedelta(days=120)
Facts = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Statement:
    """What calendars are to say of one thing now. `least_sequence` is the counter of the rows it comes from."""

    kind: str
    seed: str
    facts: Facts
    least_sequence: int = 0
    member_id: int | None = None
    occurrence_date: dt.date | None = None

    @property
    def ends_at(self) -> dt.datetime | None:
        """When it is over; None for a series."""
        if "starts_at" not in self.facts:
            return None
        return starts_at(self.facts) + duration(self.facts)


Known = Mapping[tuple[str, str], CalendarEntry]


def starts_at(facts: Facts) -> dt.datetime:
    return dt.datetime.fromisoformat(facts["starts_at"])


def duration(facts: Facts) -> dt.timedelta:
    return dt.timedelta(seconds=facts["seconds"])


def place(where: Net | EarlierRule | Session) -> str:
    """Where to listen, in words: a relay's or a simplex frequency. Never a person's place."""
    relay = where.relay_in_use if isinstance(where, Session) else where.relay
    terms = where.terms if isinstance(where, Session) else where
    if relay is None:
        return f"Simplex {terms.simplex_mhz:.3f} MHz"
    return f"{relay.name}, {relay.output_mhz:.3f} MHz"


# What is to be said --------------------------------------------------------------------------------


def rule_statement(net: Net, terms: Net | EarlierRule, *, now: dt.datetime) -> Statement:
    """A rule of a net as a series of its own."""
    last_date = _last_date(net, terms, now)
    facts = {
        "title": net.name,
        "description": net.description,
        "location": place(terms),
        "url": settings.SITE_ADDRESS + reverse("nets:page", args=[net.slug]),
        "zone": terms.zone,
        "first_wall": terms.first_wall.isoformat(),
        "seconds": int(terms.duration.total_seconds()),
        "rule": terms.rule,
        "last_date": last_date.isoformat() if last_date else None,
    }
    return Statement(CalendarEntry.Kind.NET, str(terms.series_id), facts, terms.sequence)


def _last_date(net: Net, terms: Net | EarlierRule, now: dt.datetime) -> dt.date | None:
    """The last date a rule may give. A net that was given up ends with the last session it held."""
    if net.is_active:
        return terms.last_date
    end = rule_changes.last_held(net, now=now) or terms.first_date - dt.timedelta(days=1)
    return min(end, terms.last_date) if terms.last_date else end


def session_statements(net: Net, *, now: dt.datetime) -> Iterable[tuple[Statement, bool]]:
    """Every recent and coming session, and whether it departs from its rule."""
    rows = net.sessions.filter(ends_at__gt=now - KEPT)
    for session in rows.select_related("relay", "earlier_rule__relay"):
        session.net = net
        start = clock.to_utc(
            dt.datetime.combine(session.occurrence_date, session.terms.start_time), session.terms.zone
        ).at
        by_rule = (start, start + session.terms.duration)
        departs = bool(
            session.is_extra
            or session.relay_id
            or session.note
            or session.state == Session.State.CANCELLED
            or (session.starts_at, session.ends_at) != by_rule
        )
        yield _session_statement(session), departs


def _session_statement(session: Session) -> Statement:
    called_off = session.state == Session.State.CANCELLED
    facts = {
        "status": "cancelled" if called_off else "confirmed",
        "starts_at": session.starts_at.isoformat(),
        "seconds": int((session.ends_at - session.starts_at).total_seconds()),
        "description": session.note or None,
        "location": place(session) if session.relay_id else None,
        "relay": session.relay_id,
    }
    return Statement(
        CalendarEntry.Kind.SESSION,
        f"{session.net.public_id}/{session.occurrence_date}",
        facts,
        # A departure ranks above the series it departs from.
        max(session.sequence, 1),
        occurrence_date=session.occurrence_date,
    )


def session_gone(net: Net, entry: CalendarEntry) -> Facts:
    """What to say of a session that was published as changed and has no row any more."""
    date = entry.occurrence_date
    if date is None or not net.is_active or not schedule.rule_gives(net, date):
        return entry.facts | {"status": "cancelled"}
    # A reader that merges would keep the change, so it is told that the rule holds again.
    terms = schedule.terms_on(net, date)
    plain = {"status": "confirmed", "description": None, "location": None, "relay": None}
    return plain | {
        "starts_at": schedule.rule_start(net, date).isoformat(),
        "seconds": int(terms.duration.total_seconds()),
    }


def duty_statements(net: Net, *, now: dt.datetime) -> Iterable[Statement]:
    """Every duty of the recent and coming sessions."""
    rows = Duty.objects.filter(session__net=net, session__ends_at__gt=now - KEPT)
    for duty in rows.select_related("session__relay", "session__earlier_rule__relay"):
        duty.session.net = net
        event = duty_event(duty)
        facts = {
            "status": event.status,
            "title": event.title,
            "starts_at": event.starts_at.isoformat(),
            "seconds": int(event.duration.total_seconds()),
            "location": event.location,
            "url": event.url,
        }
        yield Statement(
            CalendarEntry.Kind.DUTY,
            event.seed,
            facts,
            event.sequence,
            duty.member_id,
            duty.session.occurrence_date,
        )


# What is said --------------------------------------------------------------------------------------


def series(net: Net, *, now: dt.datetime) -> list[entries.NetSeries]:
    """Every rule of a net as a series, with each session that departs, or has ever departed, from it.

    `revisions.follow` writes down what is said here; a rule it has not seen yet is left out.
    """
    # Departures of long ago stay too: what was called off must not come back as held once it is history.
    of_series = Q(kind__in=[CalendarEntry.Kind.NET, CalendarEntry.Kind.SESSION])
    said = list(net.calendar_entries.filter(of_series))
    rules = schedule.rules_of(net)
    by_seed = {entry.seed: entry for entry in said if entry.kind == CalendarEntry.Kind.NET}
    changed: dict[str, list[CalendarEntry]] = {str(terms.series_id): [] for terms in rules}
    for entry in said:
        if entry.kind == CalendarEntry.Kind.SESSION and entry.occurrence_date:
            changed[series_on(rules, entry.occurrence_date)].append(entry)
    return [
        _series(by_seed[seed], terms.created_at, changed[seed], now)
        for terms in rules
        if (seed := str(terms.series_id)) in by_seed
    ]


def series_on(rules: Sequence[Net | EarlierRule], date: dt.date) -> str:
    """The seed of the series that a session of that local date belongs to."""
    terms = next((rule for rule in rules[:-1] if rule.last_date and date <= rule.last_date), rules[-1])
    return str(terms.series_id)


def _series(
    entry: CalendarEntry, created: dt.datetime, departed: Sequence[CalendarEntry], now: dt.datetime
) -> entries.NetSeries:
    facts = entry.facts
    seen = [each for each in departed if not _is_long_called_off(each, now)]
    return entries.NetSeries(
        seed=entry.seed,
        title=facts["title"],
        zone=facts["zone"],
        first_wall=dt.datetime.fromisoformat(facts["first_wall"]),
        duration=duration(facts),
        rule=facts["rule"],
        sequence=entry.sequence,
        created=min(created, entry.created_at),
        last_modified=entry.modified_at,
        description=facts["description"],
        location=facts["location"],
        url=facts["url"],
        last_date=dt.date.fromisoformat(facts["last_date"]) if facts["last_date"] else None,
        excluded_dates=tuple(
            each.occurrence_date for each in departed if each not in seen and each.occurrence_date
        ),
        changed=tuple(_changed_session(each) for each in seen),
    )


def _is_long_called_off(entry: CalendarEntry, now: dt.datetime) -> bool:
    """Called off so long ago that every reader has seen it: its date is left out, and nothing more is said."""
    return entry.facts["status"] == "cancelled" and entry.ends_at is not None and entry.ends_at <= now - KEPT


def _changed_session(entry: CalendarEntry) -> entries.ChangedSession:
    assert entry.occurrence_date is not None
    return entries.ChangedSession(
        occurrence_date=entry.occurrence_date,
        starts_at=starts_at(entry.facts),
        duration=duration(entry.facts),
        sequence=entry.sequence,
        last_modified=entry.modified_at,
        status=entry.facts["status"],
        description=entry.facts["description"],
        location=entry.facts["location"],
    )


def visit(entry: CalendarEntry, host: entries.NetSeries) -> entries.SingleEvent:
    """A session that meets on another relay than its net's, for the calendar of that relay.

    It has the identity of a session that stands alone in its net's own calendar.
    """
    date = entry.occurrence_date
    assert date is not None
    return entries.SingleEvent(
        kind="session",
        seed=f"{host.seed}/{date.isoformat()}",
        title=host.title,
        starts_at=starts_at(entry.facts),
        duration=duration(entry.facts),
        sequence=host.sequence + entry.sequence,
        created=host.created,
        last_modified=max(entry.modified_at, host.last_modified),
        status=entry.facts["status"],
        description=entry.facts["description"] or host.description,
        location=entry.facts["location"] or host.location,
        url=host.url,
    )


def duty_event(duty: Duty) -> entries.SingleEvent:
    """A duty as an event that blocks its holder's time, with the counters of its rows as SEQUENCE.

    Those begin anew when a duty is given again: whoever publishes it sees to it that the number never falls.
    """
    session, net = duty.session, duty.session.net
    called_off = session.state == Session.State.CANCELLED
    return entries.SingleEvent(
        kind="duty",
        seed=f"{net.public_id}/{session.occurrence_date}/{duty.role}/{duty.member_id}",
        title=f"{net.name}: {duty.get_role_display()}",
        starts_at=session.starts_at,
        duration=session.ends_at - session.starts_at,
        sequence=duty.sequence + session.sequence + net.sequence,
        created=duty.assigned_at,
        last_modified=max(duty.changed_at, session.changed_at, net.changed_at),
        status="cancelled" if called_off or duty.state == Duty.State.DECLINED else "confirmed",
        location=place(session),
        url=settings.SITE_ADDRESS
        + reverse("nets:session", args=[net.slug, session.occurrence_date.isoformat()]),
        busy=True,
    )


def duty_said(entry: CalendarEntry) -> entries.SingleEvent:
    """A duty as its holder's calendar says it; its row may be gone."""
    facts = entry.facts
    return entries.SingleEvent(
        kind="duty",
        seed=entry.seed,
        title=facts["title"],
        starts_at=starts_at(facts),
        duration=duration(facts),
        sequence=entry.sequence,
        created=entry.created_at,
        last_modified=entry.modified_at,
        status=facts["status"],
        location=facts["location"],
        url=facts["url"],
        busy=True,
    )
