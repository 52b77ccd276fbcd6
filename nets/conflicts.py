"""Conflicts, each named with both sides and a way out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from clubops import clock
from nets import schedule
from nets.models import Net, Session
from relays.models import Relay

LOOK_AHEAD = dt.timedelta(weeks=53)


@dataclass(frozen=True)
class Conflict:
    """Two things that want the same relay, or the same person, at the same time."""

    kind: str
    at: dt.datetime
    sentence: str


def relays_sharing_audio(relay: Relay) -> set[int]:
    """Primary keys of `relay` and of every relay reachable over links: one audio, so one net at a time."""
    found: set[int] = set()
    waiting = [relay.pk]
    while waiting:
        key = waiting.pop()
        if key not in found:
            found.add(key)
            waiting.extend(Relay.objects.filter(linked_to=key).values_list("pk", flat=True))
    return found


def clash_of_nets(net: Net, *, now: dt.datetime) -> Conflict | None:
    """The first time in the coming year that `net` and another active net meet on the same or linked relays.

    `net` may be unsaved: this is asked before a form is accepted.
    """
    if net.relay is None or not net.is_active:
        return None
    shared = relays_sharing_audio(net.relay)
    span = clock.Span(now, now + LOOK_AHEAD)
    own = [each.starts_at for each in schedule.occurrences(net, span)]
    others = Net.objects.filter(is_active=True, relay__in=shared).exclude(pk=net.pk).select_related("relay")
    for other in others:
        theirs = [each.starts_at for each in schedule.occurrences(other, span)]
        for start in own:
            mine = clock.Span(start, start + net.duration)
            for begin in theirs:
                if mine.overlaps(clock.Span(begin, begin + other.duration)):
                    sentence = _clash_sentence(net, net.relay, other, other.relay or net.relay, start)
                    return Conflict("two nets on one relay", start, sentence)
    return None


def _clash_sentence(net: Net, relay: Relay, other: Net, other_relay: Relay, start: dt.datetime) -> str:
    wall = clock.to_wall(start, net.zone)
    where = f"on {relay.name}"
    if other_relay != relay:
        where = f"on {other_relay.name}, which is linked to {relay.name},"
    return (
        f"{net.name} and {other.name} would both be {where} on {wall:%A} {wall.day} {wall:%B %Y} at "
        f"{wall:%H:%M} ({net.zone}). Choose another hour or another relay for one of them."
    )


def clashing_sessions(sessions: Iterable[Session]) -> list[Conflict]:
    """Every pair of the given sessions that overlaps on one relay or on linked relays, in order of time."""
    rows = sorted(
        ((s, s.relay_in_use) for s in sessions if s.state == Session.State.SCHEDULED and s.relay_in_use),
        key=lambda row: row[0].starts_at,
    )
    shared = {relay.pk: relays_sharing_audio(relay) for _, relay in rows}
    found = []
    for index, (first, its_relay) in enumerate(rows):
        for second, other_relay in rows[index + 1 :]:
            if second.starts_at >= first.ends_at:
                break
            if other_relay.pk in shared[its_relay.pk] and first.net_id != second.net_id:
                sentence = _clash_sentence(second.net, other_relay, first.net, its_relay, second.starts_at)
                found.append(Conflict("two nets on one relay", second.starts_at, sentence))
    return found
