"""The club's records as a rota to make: people, seats, who may sit where, what is settled."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from clubops.clock import Span
from clubops.members.models import Member
from clubops.members.permissions import NET_CONTROL as NET_CONTROL_ROLE
from nets.models import Duty, Net, Refusal, Session, TurnWish
from nets.rota.problem import BACKUP, LOAD, NET_CONTROL, Person, Problem, Seat, Turn
from nets.rota.reasons import Bar
from nets.rota.seating import Seating, Usher

#: Turns this long ago still count towards a fair share, as do all of the quarter the rota begins in.
HISTORY = dt.timedelta(weeks=13)
#: Gaps between turns are at most this long, so turns farther away than this bind nothing.
LONGEST_GAP = dt.timedelta(days=92)


@dataclass(frozen=True)
class Terms:
    """What the club asks of everybody who has no wish of their own, and what may be moved."""

    minimum_gap_days: int = 7
    most_turns: int | None = None
    only_empty_chairs: bool = False


@dataclass(frozen=True)
class World:
    """A problem, and the rows behind its names."""

    problem: Problem
    bars: tuple[Bar, ...]
    sessions: dict[str, Session]
    members: dict[str, Member]
    seatings: dict[tuple[str, str], Seating]


def takers() -> QuerySet[Member]:
    """Members who take the chair, with everything that is asked of them here."""
    volunteers = Q(takes_the_chair=True) | Q(user__groups__name=NET_CONTROL_ROLE)
    return with_all(Member.objects.filter(volunteers, is_active=True).distinct())


def with_all(members: QuerySet[Member]) -> QuerySet[Member]:
    return (
        members.select_related("turn_wish", "licence_class")
        .prefetch_related("stations", "absences", "licence_class__privileges")
        .order_by("call_sign")
    )


def coming_sessions(nets: Collection[Net] | None, span: Span) -> list[Session]:
    """Sessions that will take place and begin within the span, of the nets named or of every active one."""
    rows = Session.objects.filter(
        state=Session.State.SCHEDULED, starts_at__gt=span.start, starts_at__lt=span.end, net__is_active=True
    )
    if nets is not None:
        rows = rows.filter(net__in=nets)
    related = ("net__relay__site", "relay__site", "earlier_rule__relay__site")
    return list(rows.select_related(*related).order_by("starts_at", "pk"))


def gather(nets: Collection[Net] | None, span: Span, terms: Terms, *, now: dt.datetime) -> World:
    """Everything a rota of these nets (None: all) in this span depends on; guests' nets have net controls of their own.

    Stale paths are worked out here.
    """
    own = [session for session in coming_sessions(nets, span) if not session.net.guest_of]
    sessions = {str(session.pk): session for session in own}
    seats = {(key, role): seat_of(session, role) for key, session in sessions.items() for role in LOAD}
    turns = _turns(span)
    members = {member.call_sign: member for member in takers()}
    holders = {duty.member_id for duty in turns} - {member.pk for member in members.values()}
    others = {member.call_sign: member for member in with_all(Member.objects.filter(pk__in=holders))}
    usher = Usher(now, refused=_refused(sessions.values(), turns))
    given = {(duty.member_id, duty.session_id): duty.station for duty in turns}
    seatings = {
        (call_sign, key): usher.seat(member, session, given.get((member.pk, session.pk)))
        for call_sign, member in members.items()
        for key, session in sessions.items()
    }
    held_from = start_of_binding(span.start)
    standing = [duty for duty in turns if duty.state != Duty.State.DECLINED]
    inside = [duty for duty in standing if (str(duty.session_id), duty.role) in seats]
    outside = [duty for duty in standing if (str(duty.session_id), duty.role) not in seats]
    past = past_loads(members.values(), outside, before=held_from, now=span.start)
    everybody = members | others
    problem = Problem(
        people=tuple(person_of(member, terms, past.get(member.pk, 0)) for member in everybody.values()),
        seats=tuple(seats.values()),
        offers=tuple(seating.offer for seating in seatings.values() if seating.offer),
        kept=tuple(turn_of(duty) for duty in inside if terms.only_empty_chairs or is_kept(duty)),
        held=tuple(turn_of(duty) for duty in outside if duty.session.starts_at >= held_from),
        published=tuple(turn_of(duty) for duty in inside),
    )
    bars = tuple(seating.bar for seating in seatings.values() if seating.bar)
    return World(problem, bars, sessions, everybody, seatings)


def start_of_binding(now: dt.datetime) -> dt.datetime:
    """From here on turns are looked at one by one: the quarter's beginning, or the longest gap ago."""
    quarter = dt.datetime(now.year, 3 * ((now.month - 1) // 3) + 1, 1, tzinfo=dt.UTC)
    return min(quarter, now - LONGEST_GAP)


def _turns(span: Span) -> list[Duty]:
    """Every duty that can bind or count, declined ones included, called-off sessions not."""
    rows = Duty.objects.filter(
        session__starts_at__gte=min(start_of_binding(span.start), span.start - HISTORY),
        session__starts_at__lt=span.end + LONGEST_GAP,
    ).exclude(session__state=Session.State.CANCELLED)
    return list(rows.select_related("member", "station", "session__net").order_by("session__starts_at", "pk"))


def _refused(sessions: Iterable[Session], turns: Iterable[Duty]) -> set[tuple[int, int]]:
    """(member, session) where somebody has said no."""
    declined = {(t.member_id, t.session_id) for t in turns if t.state == Duty.State.DECLINED}
    rows = Refusal.objects.filter(session__in=[session.pk for session in sessions])
    return declined | set(rows.values_list("member_id", "session_id"))


def is_kept(duty: Duty) -> bool:
    """Confirmed, locked, or put there by an officer who knew better: no rota moves it."""
    return duty.is_locked or bool(duty.overrule_reason) or duty.state == Duty.State.CONFIRMED


def seat_of(session: Session, role: str) -> Seat:
    """The chair as the solver knows it."""
    span = Span(session.starts_at, session.ends_at)
    chair = NET_CONTROL if role == NET_CONTROL else BACKUP
    return Seat(str(session.pk), chair, span, session.occurrence_date, session.net.name)


def turn_of(duty: Duty) -> Turn:
    return Turn(seat_of(duty.session, duty.role), duty.member.call_sign)


def person_of(member: Member, terms: Terms, past_load: int = 0) -> Person:
    """The member as the solver knows them; their own wish stands where it asks for less than the club would."""
    wish: TurnWish | None = getattr(member, "turn_wish", None)
    limits = [most for most in (terms.most_turns, wish.most_turns if wish else None) if most is not None]
    gap_days = max(terms.minimum_gap_days, (wish.minimum_gap_days if wish else None) or 0)
    return Person(
        member.call_sign,
        shares=member.willingness,
        is_experienced=member.is_experienced,
        past_load=past_load,
        most_turns=min(limits) if limits else None,
        minimum_gap_days=gap_days,
    )


def past_loads(
    members: Iterable[Member], turns: Iterable[Duty], *, before: dt.datetime, now: dt.datetime
) -> dict[int, int]:
    """What each member carried in the recent past, before the turns that are looked at one by one.

    Somebody who joined within that time is taken to have carried an ordinary share until then: they are not made
    to catch up with turns that were held before they came.
    """
    loads: dict[int, int] = defaultdict(int)
    recent: dict[int, int] = defaultdict(int)
    for duty in turns:
        if duty.session.starts_at < now:
            recent[duty.member_id] += turn_of(duty).seat.load
            if duty.session.starts_at < before:
                loads[duty.member_id] += turn_of(duty).seat.load
    began = min(before, now - HISTORY).date()
    missed = {member: _part_missed(member, began, now.date()) for member in members}
    present = sum(member.willingness * (1 - part) for member, part in missed.items())
    a_share = sum(recent[member.pk] for member in missed) / present if present else 0.0
    for member, part in missed.items():
        loads[member.pk] += round(a_share * member.willingness * part)
    return dict(loads)


def _part_missed(member: Member, began: dt.date, today: dt.date) -> float:
    """How much of the recent past went by before the member joined, 0 to 1."""
    if member.joined_on is None:
        return 0.0
    return max(0.0, min(1.0, (member.joined_on - began) / (today - began)))
