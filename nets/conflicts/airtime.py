"""Meetings that want one channel at one time: a relay, relays linked to one audio, or a simplex frequency."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from clubops import clock
from nets import schedule
from nets.conflicts.conflict import Conflict, gathered, on_date_at
from nets.models import Net, Session
from nets.schedule import Terms
from relays.models import Relay

LOOK_AHEAD = dt.timedelta(weeks=53)
# No session is longer (the limit of a net's duration), so none that began earlier is still on.
LONGEST = dt.timedelta(hours=12)
_DAY = dt.timedelta(days=1)
WAY_OUT = "Choose another hour or another place on the air for one of them."

Channel = tuple[str, int | Decimal | None]
PlaceAndTime = tuple[Channel, dt.datetime, dt.datetime]


class Clash(ValueError):
    """A meeting that cannot be, because another has its channel. `conflict` says which."""

    def __init__(self, conflict: Conflict) -> None:
        self.conflict = conflict
        super().__init__(f"{conflict.sentence} {conflict.way_out}")


@dataclass(frozen=True)
class Meeting:
    """A net on the air from `starts_at` to `ends_at`, on a relay or on a simplex frequency."""

    net: Net
    date: dt.date
    starts_at: dt.datetime
    ends_at: dt.datetime
    relay: Relay | None
    simplex_mhz: Decimal | None
    session: Session | None = None

    @classmethod
    def of(cls, session: Session) -> Meeting:
        return cls(
            session.net,
            session.occurrence_date,
            session.starts_at,
            session.ends_at,
            session.relay_in_use,
            None if session.relay_in_use else session.terms.simplex_mhz,
            session,
        )

    def place_and_time(self, audio: Mapping[int, int]) -> PlaceAndTime:
        return self.channel(audio), self.starts_at, self.ends_at

    def channel(self, audio: Mapping[int, int]) -> Channel:
        if self.relay is None:
            return "simplex", self.simplex_mhz
        return "relay", audio.get(self.relay.pk, self.relay.pk)


def shared_audio() -> dict[int, int]:
    """For the primary key of every linked relay, one key that stands for all that carry its audio."""
    links: dict[int, set[int]] = defaultdict(set)
    for one, other in Relay.linked_to.through.objects.values_list("from_relay_id", "to_relay_id"):
        links[one].add(other)
        links[other].add(one)
    stands_for: dict[int, int] = {}
    for key in sorted(links):
        waiting = [key]
        while waiting:
            each = waiting.pop()
            if each not in stands_for:
                stands_for[each] = key
                waiting.extend(links[each])
    return stands_for


def overlaps(meetings: Iterable[Meeting], audio: Mapping[int, int]) -> Iterator[tuple[Meeting, Meeting]]:
    """Every two meetings that are on one channel at one time, by the start of the later one."""
    on_now: dict[Channel, list[Meeting]] = defaultdict(list)
    for meeting in sorted(meetings, key=lambda each: (each.starts_at, each.date)):
        channel = meeting.channel(audio)
        still_on = [each for each in on_now[channel] if each.ends_at > meeting.starts_at]
        for other in still_on:
            yield other, meeting
        on_now[channel] = [*still_on, meeting]


# What a form asks ----------------------------------------------------------------------------------


def require_net_free(net: Net, rules: Sequence[Terms], *, now: dt.datetime) -> None:
    """Raise `Clash` where `net`, meeting by `rules`, would newly meet another net in the coming year.

    The net may be unsaved. What clashes already is not refused: it is no fault of this change, which may be the
    way out. Nobody else changes the schedule until the end of the transaction.
    """
    schedule.lock()
    if not net.is_active:
        return
    span = clock.Span(now - LONGEST, now + LOOK_AHEAD)
    departed = _departed(span)
    audio = shared_audio()
    known = _known_meetings(net, span, departed, audio)
    own = [
        each
        for each in meetings_by(net, rules, span, departed.get(net.pk, ()))
        if each.ends_at > now and each.place_and_time(audio) not in known
    ]
    channels = {each.channel(audio) for each in own}
    others = [
        each
        for other in _other_nets(net)
        for each in meetings_by(other, schedule.rules_of(other), span, departed.get(other.pk, ()))
        if each.ends_at > now and each.channel(audio) in channels
    ]
    for one, other in overlaps([*own, *others], audio):
        if one.net is net or other.net is net:
            mine, theirs = (one, other) if one.net is net else (other, one)
            raise Clash(_conflict(mine, theirs, "would both be"))


def _known_meetings(
    net: Net, span: clock.Span, departed: Mapping[int, list[Session]], audio: Mapping[int, int]
) -> set[PlaceAndTime]:
    """When and where the net meets as it is saved now; `departed` rows are left as they are."""
    stored = Net.objects.filter(pk=net.pk, is_active=True).select_related("relay").first()
    if stored is None:
        return set()
    found = meetings_by(stored, schedule.rules_of(stored), span, departed.get(stored.pk, ()))
    return {each.place_and_time(audio) for each in found}


def require_free(meeting: Meeting, *, now: dt.datetime) -> None:
    """Raise `Clash` where the channel of this one meeting is taken, by another net or by its own.

    Nobody else changes the schedule until the end of the transaction.
    """
    schedule.lock()
    span = clock.Span(meeting.starts_at - LONGEST, meeting.ends_at)
    departed = _departed(span)
    audio = shared_audio()
    others = [
        each
        for net in (*_other_nets(meeting.net), meeting.net)
        for each in meetings_by(net, schedule.rules_of(net), span, departed.get(net.pk, ()))
        if (each.net.pk, each.date) != (meeting.net.pk, meeting.date) and each.ends_at > now
    ]
    for one, other in overlaps([meeting, *others], audio):
        if meeting in (one, other):
            theirs = other if one == meeting else one
            raise Clash(_conflict(meeting, theirs, "would both be"))


def _other_nets(net: Net) -> Iterable[Net]:
    rows = Net.objects.filter(is_active=True).exclude(pk=net.pk)
    return rows.select_related("relay").prefetch_related("earlier_rules__relay")


def _departed(span: clock.Span) -> dict[int, list[Session]]:
    """Sessions that are not what their rule says, by net: called off, moved, added, on another relay."""
    dates = (span.start - _DAY).date(), (span.end + _DAY).date()
    near = Q(occurrence_date__range=dates) | Q(starts_at__gte=span.start, starts_at__lt=span.end)
    changed = (
        Q(state=Session.State.CANCELLED)
        | Q(moved_to__isnull=False)
        | Q(is_extra=True)
        | Q(relay__isnull=False)
    )
    found: dict[int, list[Session]] = defaultdict(list)
    for session in Session.objects.filter(near & changed).select_related("relay", "earlier_rule__relay"):
        found[session.net_id].append(session)
    return found


def meetings_by(
    net: Net, rules: Sequence[Terms], span: clock.Span, departed: Iterable[Session] = ()
) -> list[Meeting]:
    """What the rules give in the span, with the sessions that depart from them in their place."""
    found = {
        each.date: Meeting(
            net, each.date, each.starts_at, each.ends_at, each.terms.relay, each.terms.simplex_mhz
        )
        for each in schedule.given(rules, span)
    }
    for session in departed:
        by_rule = found.pop(session.occurrence_date, None)
        stays = session.is_extra or session.moved_to or by_rule
        if session.state != Session.State.CANCELLED and stays:
            session.net = net
            found[session.occurrence_date] = _departing(session, by_rule)
    return list(found.values())


def _departing(session: Session, by_rule: Meeting | None) -> Meeting:
    """A session by hand: its own time and relay where it has them, else those of the rule as edited."""
    if by_rule is None:
        return Meeting.of(session)
    start = session.moved_to or by_rule.starts_at
    relay = session.relay or by_rule.relay
    return Meeting(
        session.net,
        session.occurrence_date,
        start,
        start + (by_rule.ends_at - by_rule.starts_at),
        relay,
        None if relay else by_rule.simplex_mhz,
        session,
    )


# What a page shows ---------------------------------------------------------------------------------


def clashes(sessions: Iterable[Session]) -> list[Conflict]:
    """Every two nets of which sessions given here meet on one channel at one time."""
    audio = shared_audio()
    pairs = overlaps([Meeting.of(each) for each in sessions], audio)
    alike = gathered(pairs, lambda pair: frozenset((pair[0].net.pk, pair[1].net.pk)))
    return [_conflict(*group[0], "are both", len(group)) for group in alike]


def _conflict(mine: Meeting, theirs: Meeting, verb: str, times: int = 1) -> Conflict:
    at = max(mine.starts_at, theirs.starts_at)
    zone = mine.net.zone
    when = on_date_at(at, zone)
    if mine.net.pk == theirs.net.pk and mine.net.pk is not None:
        sides = (_dated(mine), _dated(theirs))
        sentence = (
            f"{mine.net.name} would meet twice at once {when}: as the {sides[0]} and as the {sides[1]}."
        )
    else:
        sides = (mine.net.name, theirs.net.name)
        sentence = f"{mine.net.name} and {theirs.net.name} {verb} {_where(mine, theirs)} {when}."
    sessions = tuple(each.session for each in (mine, theirs) if each.session is not None)
    return Conflict(
        "two nets at once", at, zone, sides, sentence, WAY_OUT, times, sessions, (mine.net, theirs.net)
    )


def _dated(meeting: Meeting) -> str:
    return f"session of {meeting.date.day} {meeting.date:%B %Y}"


def _where(mine: Meeting, theirs: Meeting) -> str:
    if mine.relay is None or theirs.relay is None:
        return f"on {mine.simplex_mhz:.3f} MHz simplex"
    if mine.relay.pk == theirs.relay.pk:
        return f"on {mine.relay.name}"
    return f"on the air together, since {theirs.relay.name} is linked to {mine.relay.name} and carries its audio,"
