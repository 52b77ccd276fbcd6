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
from django.urls import reverse
from django.utils.translation import gettext, gettext_noop

from clubops import clock
from clubops.members.models import Member
from clubops.notices import kinds, wanted
from clubops.notices.kinds import Letter, Link, Untrue
from clubops.notices.models import Notice
from clubops.notices.templatetags.ledger import short_time
from clubops.notices.wanted import Wanted
from clubops.templatetags.measures import wall_time
from nets import spoken
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
    for session in _sessions(now, until=max(_until(each, now) for each in found)):
        for outage in found:
            if session.relay_in_use is not None and _hits(outage, session, now):
                for member, role in _people(session):
                    key = (outage.pk, member.pk)
                    known.setdefault(key, Concern(outage, member)).add(session, role)
    return [known[key] for key in sorted(known)]


def _until(outage: Outage, now: dt.datetime) -> dt.datetime:
    return outage.ends_at or now + NEAR


def _hits(outage: Outage, session: Session, now: dt.datetime) -> bool:
    relay = session.relay_in_use
    in_time = session.starts_at < _until(outage, now)
    return (
        relay is not None
        and relay.pk == outage.relay_id
        and in_time
        and outage.overlaps(session.starts_at, session.ends_at)
    )


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


# What they say ---------------------------------------------------------------------------------------

_EFFECTS = {
    Outage.Effect.OFF_AIR.value: gettext_noop("%(relay)s is off the air"),
    Outage.Effect.REDUCED.value: gettext_noop("%(relay)s is on the air, reduced"),
}


def letter(notice: Notice, now: dt.datetime) -> Letter:
    """Which relay, from when until when and why; which of the reader's sessions fall into it."""
    outage = _outage_of(notice)
    if outage.is_called_off:
        raise Untrue("The outage was called off.")
    if outage.ends_at is not None and outage.ends_at <= now:
        raise Untrue("The outage is over.")
    concern = next(
        (each for each in concerns([outage], now=now) if each.member.pk == notice.recipient_id), None
    )
    if concern is None:
        raise Untrue("No session of theirs falls into the outage any more.")
    zone = notice.recipient.zone
    what = gettext(_EFFECTS[outage.effect]) % {"relay": outage.relay.name}
    words = {"what": what, "when": short_time(outage.starts_at, zone)}
    subject = (
        gettext("%(what)s from %(when)s") if _is_first(notice) else gettext("Changed: %(what)s from %(when)s")
    )
    return Letter(
        subject=subject % words,
        lines=(
            gettext("%(what)s from %(when)s, and sessions that concern you fall into that time.") % words,
            gettext("A net manager can move a session to another relay or hour, or call it off."),
        ),
        facts=(*_facts(outage, zone), *_sessions_of(concern, zone)),
        links=(*_pages(concern), Link(outage.relay.name, _url("relays:page", outage.relay.slug))),
        told={"ends_at": outage.ends_at.isoformat() if outage.ends_at else None},
    )


def _is_first(notice: Notice) -> bool:
    """Whether the reader has heard of this outage before."""
    before = Notice.objects.filter(
        recipient=notice.recipient_id, subject_key=notice.subject_key, state=Notice.State.SENT
    )
    return not before.filter(kind__in=(PLANNED, UNFORESEEN)).exclude(pk=notice.pk).exists()


def _facts(outage: Outage, zone: str) -> Iterator[tuple[str, str]]:
    yield gettext("From"), wall_time(outage.starts_at, zone)
    until = wall_time(outage.ends_at, zone) if outage.ends_at else gettext("nobody knows yet")
    yield gettext("Until"), until
    yield gettext("Why"), outage.reason


def _sessions_of(concern: Concern, zone: str) -> Iterator[tuple[str, str]]:
    for pk, session in concern.sessions.items():
        held = ", ".join(spoken.role(role) for role in concern.roles[pk])
        told = f"{session.net.name}, {short_time(session.starts_at, zone)}"
        yield gettext("Falls into it"), f"{told} ({held})" if held else told


def _pages(concern: Concern) -> Iterator[Link]:
    for session in concern.sessions.values():
        on = session.occurrence_date
        yield Link(
            f"{session.net.name}, {spoken.short_date(on)}", _url("nets:session", session.net.slug, f"{on}")
        )


def over(notice: Notice, now: dt.datetime) -> Letter:
    """It is back, or it will not be off at all."""
    outage = _outage_of(notice)
    if not outage.is_called_off and (outage.ends_at is None or outage.ends_at > now):
        raise Untrue("The outage goes on after all.")
    zone = notice.recipient.zone
    words = {"relay": outage.relay.name, "when": short_time(outage.starts_at, zone)}
    if outage.is_called_off:
        subject = gettext("Called off: the outage of %(relay)s on %(when)s") % words
        line = (
            gettext("The outage of %(relay)s on %(when)s, of which we told you, does not take place.") % words
        )
    else:
        assert outage.ends_at is not None
        words["when"] = short_time(outage.ends_at, zone)
        subject = gettext("%(relay)s is back") % words
        line = gettext("%(relay)s is back since %(when)s. What is planned on it stands.") % words
    return Letter(
        subject=subject,
        lines=(line,),
        links=(Link(outage.relay.name, _url("relays:page", outage.relay.slug)),),
    )


def _url(name: str, *args: str) -> str:
    return str(settings.SITE_ADDRESS + reverse(name, args=args))


def _outage_of(notice: Notice) -> Outage:
    outage = Outage.objects.select_related("relay").filter(pk=outage_id(notice.subject_key)).first()
    if outage is None:
        raise Untrue("The outage is not in the records any more.")
    return outage


def titled(notice: Notice) -> str:
    """What the notice is about, in the language spoken just now."""
    outage = Outage.objects.select_related("relay").filter(pk=outage_id(notice.subject_key)).first()
    return title_of(outage) if outage else notice.title


def register() -> None:
    for kind in (
        kinds.Kind(PLANNED, gettext_noop("planned outage of a relay"), letter, titled=titled),
        kinds.Kind(UNFORESEEN, gettext_noop("relay that fell silent"), letter, is_urgent=True, titled=titled),
        kinds.Kind(OVER, gettext_noop("end of an outage"), over, titled=titled),
    ):
        kinds.register(kind)
