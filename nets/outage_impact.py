"""What an outage of a relay cuts off: which sessions, which people, and what each session can fall back on.

It answers for an outage that is stored and for one that is only typed so far. Chairs are judged by the limits of their
net, other people by what "usable" means where no net asks for more. No position leaves this module.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass, field

from clubops.members.models import Member
from nets import duties
from nets.models import Duty, Session
from relays import outages, paths, terrain_store
from relays.models import Outage, PathVerdict, Relay
from relays.outages import Terms

# While nobody knows the end, sessions of so many days count as hit.
OPEN_AHEAD = dt.timedelta(days=7)
# A page lists so many sessions; the rest are counted.
MOST_SESSIONS = 12


@dataclass(frozen=True)
class Chair:
    """Who is down for a session, and how one relay suits them; `standing` None for who has no station to check."""

    duty: Duty
    standing: paths.Standing

    @property
    def margin_db(self) -> float | None:
        return self.standing.verdict.margin_db if self.standing.verdict else None


@dataclass(frozen=True)
class Fallback:
    """Another relay for one session, and how everybody in a chair gets into it."""

    relay: Relay
    chairs: tuple[Chair, ...]
    why_not: str = ""

    @property
    def usable_chairs(self) -> int:
        return sum(each.standing.is_usable for each in self.chairs)

    @property
    def does(self) -> bool:
        """Everybody who is down for the session can use it. With nobody down for it, that cannot be said."""
        return not self.why_not and bool(self.chairs) and self.usable_chairs == len(self.chairs)

    @property
    def worst_margin_db(self) -> float | None:
        """The margin of whoever is heard worst; None where one of them has no answer."""
        margins = [each.margin_db for each in self.chairs]
        known = [each for each in margins if each is not None]
        return min(known) if known and len(known) == len(margins) else None


@dataclass(frozen=True)
class Hit:
    """One session in the outage, who is on duty in it, and other relays, the best first."""

    session: Session
    duties: tuple[Duty, ...]
    fallbacks: tuple[Fallback, ...]

    @property
    def best(self) -> Fallback | None:
        """The first relay that does, for everybody on duty."""
        return next((each for each in self.fallbacks if each.does), None)


@dataclass(frozen=True)
class Impact:
    """Everything one outage cuts off.

    `hits` are sessions on the relay, `more` those beyond the first MOST_SESSIONS; `heard_less` sessions on relays
    linked to it. `alone` are members for whom no other relay on the air is usable, `unknown` counts those of whom no
    path has been worked out.
    """

    hits: list[Hit] = field(default_factory=list)
    more: int = 0
    heard_less: list[Session] = field(default_factory=list)
    alone: list[Member] = field(default_factory=list)
    unknown: int = 0

    @property
    def is_empty(self) -> bool:
        return not (self.hits or self.heard_less or self.alone)


def of(outage: Outage, *, now: dt.datetime) -> Impact:
    """What a stored outage cuts off from now on."""
    terms = Terms(outage.starts_at, outage.ends_at, outage.reason, outage.kind, outage.effect)
    return would_be(outage.relay, terms, now=now)


def would_be(relay: Relay, terms: Terms, *, now: dt.datetime) -> Impact:
    """What an outage on these terms would cut off. Paths of people on duty are worked out if they are stale."""
    start = max(terms.starts_at, now)
    end = terms.ends_at or start + OPEN_AHEAD
    if end <= start:
        return Impact()
    there = [each for each in _sessions(start, end) if each.relay_in_use is not None]
    own = [each for each in there if each.relay_in_use == relay]
    linked = set(relay.linked_to.all())
    others = _others(relay)
    hits = _hits(own[:MOST_SESSIONS], others, now)
    alone, unknown = _alone(relay, others) if terms.effect == Outage.Effect.OFF_AIR else ([], 0)
    return Impact(
        hits=hits,
        more=max(0, len(own) - MOST_SESSIONS),
        heard_less=[each for each in there if each.relay_in_use in linked],
        alone=alone,
        unknown=unknown,
    )


def _sessions(start: dt.datetime, end: dt.datetime) -> list[Session]:
    rows = Session.objects.filter(
        state=Session.State.SCHEDULED, net__is_active=True, starts_at__lt=end, ends_at__gt=start
    ).select_related("net__relay", "net__manager", "relay__site", "earlier_rule__relay")
    return list(rows.prefetch_related("duties__member", "duties__station").order_by("starts_at", "pk"))


def _others(relay: Relay) -> list[Relay]:
    """Relays on the air for good, apart from this one."""
    silent = (Relay.Status.OFF_AIR, Relay.Status.PLANNED)
    return list(
        Relay.objects.exclude(pk=relay.pk)
        .exclude(status__in=silent)
        .select_related("site")
        .prefetch_related("linked_to")
    )


# Fallbacks -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Around:
    """What else goes on while the sessions hit are on the air: read once for all of them."""

    sessions: list[Session]
    silent: list[Outage]
    linked: dict[int, set[int]]

    def why_not(self, session: Session, relay: Relay) -> str:
        """Why the relay is not to be had at that time: silent itself, or another net on it or on one linked to it."""
        span = session.starts_at, session.ends_at
        if any(each.relay_id == relay.pk and each.overlaps(*span) for each in self.silent):
            return "off the air then too"
        busy = {relay.pk, *self.linked[relay.pk]}
        for other in self.sessions:
            its = other.relay_in_use
            meanwhile = other.starts_at < session.ends_at and session.starts_at < other.ends_at
            if other.pk != session.pk and meanwhile and its is not None and its.pk in busy:
                return f"{other.net.name} meets there at that time"
        return ""


def _hits(own: list[Session], others: list[Relay], now: dt.datetime) -> list[Hit]:
    if not own:
        return []
    span = min(each.starts_at for each in own), max(each.ends_at for each in own)
    around = _Around(
        _sessions(*span),
        [each for each in outages.between(*span) if each.silences],
        {relay.pk: {each.pk for each in relay.linked_to.all()} for relay in others},
    )
    return [_hit(each, others, around, now) for each in own]


def _hit(session: Session, others: list[Relay], around: _Around, now: dt.datetime) -> Hit:
    held = tuple(each for each in session.duties.all() if each.state != Duty.State.DECLINED)
    found = [_fallback(session, held, relay, around, now) for relay in others]
    return Hit(session, held, tuple(sorted(found, key=_rank)))


def _rank(way: Fallback) -> tuple[bool, bool, int, float, str]:
    """What does first; then who reaches more chairs, then by the margin of whoever is heard worst."""
    margin = way.worst_margin_db
    down_db = -margin if margin is not None else float("inf")
    return bool(way.why_not), not way.does, -way.usable_chairs, down_db, way.relay.name


def _fallback(
    session: Session, held: tuple[Duty, ...], relay: Relay, around: _Around, now: dt.datetime
) -> Fallback:
    return Fallback(
        relay,
        tuple(Chair(duty, _standing(session, duty, relay, now)) for duty in held),
        around.why_not(session, relay),
    )


def _standing(session: Session, duty: Duty, relay: Relay, now: dt.datetime) -> paths.Standing:
    return paths.standing(
        duties.station_for(duty.member, duty.station),
        relay,
        minimum_margin_db=session.net.minimum_margin_db,
        minimum_probability=session.net.minimum_probability,
        now=now,
    )


# People ----------------------------------------------------------------------------------------------


def _alone(relay: Relay, others: list[Relay]) -> tuple[list[Member], int]:
    """Members who use this relay from their main station and no other; how many cannot be told.

    Only stored verdicts that are fresh count; nothing is worked out here.
    """
    usable: dict[int, set[int]] = defaultdict(set)
    known: set[tuple[int, int]] = set()
    rows = PathVerdict.objects.filter(
        station__is_main=True, station__member__is_active=True, relay__in=[relay, *others]
    ).select_related("station__member", "relay__site")
    members: dict[int, Member] = {}
    ground_version = terrain_store.terrain_version()
    for stored in rows:
        today = paths.digest(paths.inputs_of(stored.station, stored.relay, ground_version))
        if stored.inputs_digest != today:
            continue
        member = stored.station.member
        members[member.pk] = member
        known.add((member.pk, stored.relay_id))
        if paths.standing_of(stored, stored.relay).is_usable:
            usable[member.pk].add(stored.relay_id)
    wanted = {relay.pk, *(each.pk for each in others)}
    complete = {pk for pk in members if all((pk, one) in known for one in wanted)}
    alone = [members[pk] for pk in complete if usable[pk] == {relay.pk}]
    active = Member.objects.filter(is_active=True).count()
    return sorted(alone, key=lambda each: each.call_sign), active - len(complete)
