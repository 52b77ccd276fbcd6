"""What is wrong with who is in a chair: two chairs at once, away, no licence, no usable path."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from clubops import clock
from nets.conflicts.conflict import Conflict, gathered, on_date, on_date_at
from nets.models import Absence, Duty, Session
from relays import paths
from relays.models import PathVerdict


@dataclass(frozen=True)
class Seat:
    """Somebody in a chair of a session."""

    session: Session
    duty: Duty

    @property
    def who(self) -> str:
        return f"{self.duty.member.call_sign}, {self.duty.get_role_display()} of {self.session.net.name}"


def seats(sessions: Iterable[Session]) -> list[Seat]:
    """Everybody in a chair, by time; `sessions` come with the duties that were not declined."""
    found = [Seat(session, duty) for session in sessions for duty in session.duties.all()]
    return sorted(found, key=lambda seat: (seat.session.starts_at, seat.duty.pk))


def two_chairs(taken: Sequence[Seat]) -> Iterator[Conflict]:
    """A person in two chairs at once."""
    pairs = [
        (one, other)
        for own in gathered(taken, lambda seat: seat.duty.member_id)
        for index, one in enumerate(own)
        for other in own[index + 1 :]
        if one.session.starts_at < other.session.ends_at and other.session.starts_at < one.session.ends_at
    ]
    for group in gathered(
        pairs, lambda pair: (pair[0].duty.member_id, pair[0].session.net_id, pair[1].session.net_id)
    ):
        one, other = group[0]
        at = max(one.session.starts_at, other.session.starts_at)
        zone = one.session.net.zone
        yield Conflict(
            "one person in two chairs",
            at,
            zone,
            (one.who, f"{other.duty.get_role_display()} of {other.session.net.name}"),
            f"{one.who}, is also {other.duty.get_role_display()} of {other.session.net.name} "
            f"{on_date_at(at, zone)}.",
            "Find somebody else for one of the two.",
            len(group),
            (one.session, other.session),
            (one.session.net, other.session.net),
        )


def away(taken: Sequence[Seat]) -> Iterator[Conflict]:
    """A person in a chair on a day on which they have said that they are away."""
    members = {seat.duty.member_id for seat in taken}
    absences = gathered(Absence.objects.filter(member__in=members), lambda each: each.member_id)
    by_member = {rows[0].member_id: rows for rows in absences}
    missed = [
        seat
        for seat in taken
        if any(_covers(absence, seat) for absence in by_member.get(seat.duty.member_id, ()))
    ]
    for group in gathered(missed, lambda seat: (seat.duty.member_id, seat.session.net_id, seat.duty.role)):
        yield _about(
            group,
            "in the chair and away",
            "days away",
            f"has said that they are away {on_date(group[0].session.starts_at, group[0].duty.member.zone)}.",
            "Find somebody else, or ask them whether the days away still hold.",
        )


def _covers(absence: Absence, seat: Seat) -> bool:
    first, last = (
        clock.to_wall(at, seat.duty.member.zone).date()
        for at in (seat.session.starts_at, seat.session.ends_at)
    )
    return absence.first_date <= last and first <= absence.last_date


def licences(taken: Sequence[Seat]) -> Iterator[Conflict]:
    """A person in a chair whose licence will have run out. The date itself is the officers' to know."""
    late = [
        seat
        for seat in taken
        if (ends := seat.duty.member.licence_expires_on)
        and ends < clock.to_wall(seat.session.starts_at, seat.duty.member.zone).date()
    ]
    for group in gathered(late, lambda seat: (seat.duty.member_id, seat.session.net_id, seat.duty.role)):
        yield _about(
            group,
            "in the chair without a licence",
            "the licence on the roster",
            "is in the chair after their licence, by the roster, has run out.",
            "Ask them whether it has been renewed and an officer to correct the roster, or find somebody else.",
        )


def weak_paths(taken: Sequence[Seat], *, now: dt.datetime) -> Iterator[Conflict]:
    """A person in a chair who cannot be heard well enough, unless an officer has accepted that.

    Each path is judged once, however many sessions rest on it, and computed anew where it is stale.
    """
    verdicts: dict[tuple[int, int], PathVerdict] = {}
    weak = []
    for seat in taken:
        standing = None if seat.duty.overrule_reason else _standing(seat, verdicts, now)
        if standing is not None and not standing.is_usable:
            weak.append((seat, standing))
    for group in gathered(weak, lambda pair: (*_path_of(pair[0]), pair[0].duty.member_id, pair[0].duty.role)):
        session, standing = group[0][0].session, group[0][1]
        yield _about(
            [seat for seat, _ in group],
            "no usable path",
            session.relay_in_use.name if session.relay_in_use else "",
            f"has no usable path {on_date(session.starts_at, session.net.zone)}: {standing.sentence}",
            "Find somebody else, another station of theirs, or another relay for that session; an officer may "
            "overrule it with a reason.",
        )


def _standing(
    seat: Seat, verdicts: dict[tuple[int, int], PathVerdict], now: dt.datetime
) -> paths.Standing | None:
    """As `duties.standing_of`, with each verdict asked for once; limits are each net's own."""
    relay, station, net = seat.session.relay_in_use, seat.duty.station, seat.session.net
    if relay is None:
        return None
    limits = {
        "minimum_margin_db": net.minimum_margin_db,
        "minimum_probability": net.minimum_probability,
    }
    if station is None:
        return paths.standing(None, relay, **limits, now=now)
    key = station.pk, relay.pk
    if key not in verdicts:
        verdicts[key] = paths.verdict_now(station, relay, now=now)
    return paths.standing_of(verdicts[key], relay, **limits)


def _path_of(seat: Seat) -> tuple[object, ...]:
    relay, net = seat.session.relay_in_use, seat.session.net
    return seat.duty.station_id, relay.pk if relay else None, net.pk


def _about(group: Sequence[Seat], kind: str, other_side: str, trouble: str, way_out: str) -> Conflict:
    first = group[0]
    net = first.session.net
    return Conflict(
        kind,
        first.session.starts_at,
        net.zone,
        (first.who, other_side),
        f"{first.who}, {trouble}",
        way_out,
        len(group),
        (first.session,),
        (net,),
    )
