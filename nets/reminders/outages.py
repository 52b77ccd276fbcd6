"""Telling the people whom an outage of a relay concerns: net managers, and whoever is down for a session in it.

Ahead of a planned one, at once of one that has come unforeseen, again when its times change, and when it is over
sooner or otherwise than they were told. Everything is worked out from the records as they are, so that a run after
a week of silence tells what is true then.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.db.models import Prefetch
from django.utils.translation import gettext

from clubops import clock
from clubops.members.models import Member
from clubops.notices import wanted
from clubops.notices.models import Notice
from clubops.notices.wanted import Wanted
from nets import silences, spoken
from nets.models import Duty, Session
from relays import outages
from relays.models import Outage

PLANNED = "relay_outage"
UNFORESEEN = "relay_outage_now"
OVER = "relay_outage_over"
KINDS = (PLANNED, UNFORESEEN, OVER)

# Of one whose end nobody knows, sessions as near as this are in doubt; the later ones are told of when they are near.
NEAR = dt.timedelta(hours=48)
AHEAD = dt.timedelta(days=366)
# That a relay is back, or that an outage will not be, is news for so long.
NEWS = dt.timedelta(days=3)


@dataclass(slots=True)
class Concern:
    """One person, one outage, and the sessions in it that are theirs to care for, earliest first.

    `roles` are the chairs they hold, by session; a net manager who holds none has an empty one.
    """

    outage: Outage
    member: Member
    sessions: dict[int, Session] = field(default_factory=dict)
    roles: dict[int, list[str]] = field(default_factory=dict)

    def add(self, session: Session, role: str = "") -> None:
        self.sessions.setdefault(session.pk, session)
        held = self.roles.setdefault(session.pk, [])
        if role:
            held.append(role)

    @property
    def first_at(self) -> dt.datetime:
        return min(session.starts_at for session in self.sessions.values())

    @property
    def last_at(self) -> dt.datetime:
        return max(session.starts_at for session in self.sessions.values())


def top_up(*, now: dt.datetime) -> wanted.Reconciled:
    """Bring the ledger in step with the outages. Safe to repeat, to kill and to run twice at once."""
    return wanted.reconcile([*outage_wishes(now), *over_wishes(now)], kinds=KINDS, now=now)


# Whom it concerns ------------------------------------------------------------------------------------


def concerns(found: Iterable[Outage], *, now: dt.datetime) -> list[Concern]:
    """Everybody whom these outages concern, by the sessions that have not begun and fall into them."""
    found = list(found)
    if not found:
        return []
    known: dict[tuple[int, int], Concern] = {}
    sessions = _sessions(now, until=max(_until(each, now) for each in found))
    for session, outage in silences.meetings(sessions, found):
        if session.starts_at < _until(outage, now):
            for member, role in _people(session):
                known.setdefault((outage.pk, member.pk), Concern(outage, member)).add(session, role)
    return [known[key] for key in sorted(known)]


def _until(outage: Outage, now: dt.datetime) -> dt.datetime:
    return outage.ends_at or now + NEAR


def _sessions(now: dt.datetime, *, until: dt.datetime) -> list[Session]:
    held = Duty.objects.exclude(state=Duty.State.DECLINED).select_related("member")
    rows = Session.objects.filter(
        starts_at__gt=now, starts_at__lt=until, state=Session.State.SCHEDULED, net__is_active=True
    )
    rows = rows.select_related("net__relay", "net__manager", "relay", "earlier_rule__relay")
    return list(rows.prefetch_related(Prefetch("duties", queryset=held)).order_by("starts_at", "pk"))


def _people(session: Session) -> Iterator[tuple[Member, str]]:
    manager = session.net.manager
    if manager is not None and manager.is_active:
        yield manager, ""
    for duty in session.duties.all():
        if duty.member.is_active:
            yield duty.member, duty.role


# What the ledger should hold -------------------------------------------------------------------------


def outage_wishes(now: dt.datetime) -> Iterator[Wanted]:
    """One notice a person and outage, and another one when its times have changed."""
    for each in concerns(outages.between(now, now + AHEAD), now=now):
        outage = each.outage
        kind = PLANNED if outage.kind == Outage.Kind.PLANNED else UNFORESEEN
        yield Wanted(
            key=f"{PLANNED}/{outage.public_id}/{_times(outage)}/member:{each.member.pk}",
            recipient_id=each.member.pk,
            kind=kind,
            subject_key=subject_key(outage),
            title=title_of(outage),
            due_at=None,
            not_after=each.last_at,
            event_at=each.first_at,
        )


def over_wishes(now: dt.datetime) -> Iterator[Wanted]:
    """To those who were told of an outage that is called off, or has ended otherwise than they were told."""
    for notice, outage in _told(now):
        ended_at = over_since(outage, notice.told or {}, now)
        if ended_at is None or ended_at <= now - NEWS:
            continue
        yield Wanted(
            key=f"{OVER}/{outage.public_id}/{ended_at.isoformat()}/member:{notice.recipient_id}",
            recipient_id=notice.recipient_id,
            kind=OVER,
            subject_key=notice.subject_key,
            title=title_of(outage),
            due_at=None,
            not_after=ended_at + NEWS,
        )


def over_since(outage: Outage, told: dict[str, Any], now: dt.datetime) -> dt.datetime | None:
    """Since when what was told is over; None while it goes on, and where it ended just as it was told."""
    if outage.called_off_at is not None:
        return outage.called_off_at
    if outage.ends_at is None or outage.ends_at > now or told.get("ends_at") == outage.ends_at.isoformat():
        return None
    return outage.ends_at


def _told(now: dt.datetime) -> Iterator[tuple[Notice, Outage]]:
    """The last notice of an outage that each person got, with the outage; recent ones only."""
    rows = Notice.objects.filter(
        kind__in=(PLANNED, UNFORESEEN), state=Notice.State.SENT, sent_at__gt=now - outages.LONGEST - AHEAD
    )
    last = {(row.recipient_id, row.subject_key): row for row in rows.order_by("sent_at", "pk")}
    known = Outage.objects.select_related("relay").in_bulk(
        {outage_id(row.subject_key) for row in last.values()}
    )
    for row in last.values():
        outage = known.get(outage_id(row.subject_key))
        if outage is not None:
            yield row, outage


def subject_key(outage: Outage) -> str:
    return f"outage:{outage.pk}"


def outage_id(key: str) -> int:
    return int(key.removeprefix("outage:"))


def title_of(outage: Outage) -> str:
    """For lists: which relay, and from when."""
    return gettext("Outage of %(relay)s from %(day)s") % {
        "relay": outage.relay.name,
        "day": spoken.short_date(clock.to_wall(outage.starts_at, settings.CLUB_ZONE).date()),
    }


def _times(outage: Outage) -> str:
    said = f"{outage.effect}{outage.starts_at.isoformat()}{outage.ends_at and outage.ends_at.isoformat()}"
    return hashlib.sha256(said.encode()).hexdigest()[:12]
