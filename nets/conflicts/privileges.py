"""People in a chair whose licence does not cover what they would send on, or with how much power."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from clubops.members.segments import Verdict, watts
from nets import privileges
from nets.conflicts.conflict import Conflict, gathered, on_date
from nets.conflicts.people import Seat
from nets.models import Session


def beyond_the_licence(taken: Sequence[Seat]) -> Iterator[Conflict]:
    """Net controls and backups beyond their privileges by the club's table. What it does not hold alarms nobody.

    A licence that has run out is a conflict of its own and is not told twice.
    """
    beyond = [
        (seat, found)
        for seat in taken
        if (found := privileges.verdict(seat.session, seat.duty.member, seat.duty.station)).is_refused
        and found.fault != "expired"
    ]
    for group in gathered(beyond, lambda pair: (pair[0].duty.member_id, pair[0].session.net_id, pair[1])):
        seat, found = group[0]
        session, net = seat.session, seat.session.net
        held = seat.duty.member.licence_class
        yield Conflict(
            "beyond the licence",
            session.starts_at,
            net.zone,
            (seat.who, f"licence class {held}"),
            f"{_on_date(session)} {seat.who}, {found.words}.",
            way_out(session, found),
            len(group),
            (session,),
            (net,),
        )


def guests_beyond_the_licence(sessions: Iterable[Session]) -> Iterator[Conflict]:
    """Guest nets where the class their net control is said to hold does not cover what is sent."""
    beyond = [
        (session, found)
        for session in sessions
        if (found := privileges.guest_verdict(session)) is not None and found.is_refused
    ]
    for group in gathered(beyond, lambda pair: (pair[0].net_id, pair[1])):
        session, found = group[0]
        net = session.net
        yield Conflict(
            "guests beyond the licence",
            session.starts_at,
            net.zone,
            (f"{net.name}, run by {net.guest_of}", f"licence class {net.guest_class}"),
            f"{_on_date(session)} net control of {net.name}, from {net.guest_of}, {found.words}.",
            way_out(session, found),
            len(group),
            (session,),
            (net,),
        )


def way_out(session: Session, found: Verdict) -> str:
    """Less power where that is all, somebody whose class allows it, or another place on the air."""
    table = "The club's table is a note: the licence decides, and an officer corrects the table."
    names = [each.name for each in privileges.classes_for(session)]
    holder = f"let somebody with licence class {_either(names)} take the chair"
    if found.fault == "power" and found.most_power_w is not None:
        down = f"Turn the power down to {watts(found.most_power_w)} and check the path again"
        return f"{down}, or {holder}. {table}" if names else f"{down}. {table}"
    if names:
        return f"{holder[0].upper()}{holder[1:]}. {table}"
    return f"Choose another relay or frequency: no class in the club's table allows this one. {table}"


def _on_date(session: Session) -> str:
    words = on_date(session.starts_at, session.net.zone)
    return words[0].upper() + words[1:]


def _either(names: Sequence[str]) -> str:
    return " or ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
