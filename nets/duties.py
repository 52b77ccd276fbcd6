"""Putting people in the chair, with a path that works or a reason why not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction

from clubops import clock
from clubops.members.models import Member, Station
from nets import privileges
from nets.models import Absence, Duty, Session, SwapOffer
from relays import paths

MINIMUM_REASON = 10


class DutyRefused(ValueError):
    """A duty that cannot be given. `sentence` is for people; `standing` is the path that failed, if one did."""

    def __init__(self, sentence: str, standing: paths.Standing | None = None) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.standing = standing

    @property
    def may_be_overruled(self) -> bool:
        """A path that is too weak is a judgement an officer may take; a double booking or a licence is not."""
        return self.standing is not None


@dataclass(frozen=True)
class Chair:
    """One role at one session, and who would take it from where."""

    session: Session
    role: str
    member: Member
    station: Station | None


def station_for(member: Member, station: Station | None = None) -> Station | None:
    """The station a member would use: the one named, else their main one, else their only one."""
    if station is not None:
        return station
    own = list(member.stations.all())
    return next((each for each in own if each.is_main), own[0] if len(own) == 1 else None)


def standing_of(session: Session, station: Station | None, *, now: dt.datetime) -> paths.Standing | None:
    """How the path from `station` to tonight's relay stands against the net's own limits.

    None on a simplex net: there is no relay to reach. Computed now if the stored verdict is stale.
    """
    relay = session.relay_in_use
    if relay is None:
        return None
    net = session.net
    return paths.standing(
        station,
        relay,
        minimum_margin_db=net.minimum_margin_db,
        minimum_probability=net.minimum_probability,
        now=now,
    )


def check(chair: Chair, *, now: dt.datetime) -> None:
    """Raise `DutyRefused` when this person should not be in this chair."""
    session, member = chair.session, chair.member
    if session.state != Session.State.SCHEDULED:
        raise DutyRefused(f"This session is {session.get_state_display()}; nobody can be put in the chair.")
    if not member.is_active:
        raise DutyRefused(f"{member.call_sign} is no longer an active member.")
    if chair.station is not None and chair.station.member_id != member.pk:
        raise DutyRefused(f"That station is not one of {member.call_sign}'s.")
    if absence := away(member, session):
        raise DutyRefused(
            f"{member.call_sign} is away from {absence.first_date} to {absence.last_date}; "
            "choose somebody else or change the absence."
        )
    if other := booked_elsewhere(member, session):
        raise DutyRefused(
            f"{member.call_sign} is already {other.get_role_display()} of {other.session.net} at that time."
        )
    licence = privileges.verdict(session, member, chair.station)
    if licence.is_refused:
        raise DutyRefused(
            f"{member.call_sign} {licence.words}. If that is wrong, an officer corrects the roster."
        )
    standing = standing_of(session, chair.station, now=now)
    if standing is not None and not standing.is_usable:
        raise DutyRefused(f"{member.call_sign} cannot be put in the chair: {standing.sentence}", standing)


def away(member: Member, session: Session) -> Absence | None:
    """The absence that covers the session, by the calendar of the member's own zone."""
    first = clock.to_wall(session.starts_at, member.zone).date()
    last = clock.to_wall(session.ends_at, member.zone).date()
    # Read whole, so that who asks about many sessions may have fetched them beforehand.
    rows = member.absences.all()
    return next((row for row in rows if row.first_date <= last and row.last_date >= first), None)


def booked_elsewhere(member: Member, session: Session) -> Duty | None:
    """Another duty of this member at an overlapping time, in this or any other net."""
    return (
        Duty.objects.filter(
            member=member,
            session__starts_at__lt=session.ends_at,
            session__ends_at__gt=session.starts_at,
            session__state=Session.State.SCHEDULED,
        )
        .exclude(session=session)
        .exclude(state=Duty.State.DECLINED)
        .select_related("session__net")
        .first()
    )


def lock(sessions: Iterable[int | None], members: Iterable[int | None] = ()) -> None:
    """Lock these sessions, then these members, each in the order of their keys; call inside a transaction.

    Whoever gives chairs takes the rows in this order, so that nobody waits in a ring. The people too: of two turns
    taken at once, the second must see the first when its gap is measured.
    """
    list(Session.objects.select_for_update().filter(pk__in=_known(sessions)).order_by("pk"))
    list(Member.objects.select_for_update(no_key=True).filter(pk__in=_known(members)).order_by("pk"))


def _known(keys: Iterable[int | None]) -> list[int]:
    return [key for key in keys if key is not None]


@transaction.atomic
def assign(
    chair: Chair, *, now: dt.datetime, overruled_by: Member | None = None, overrule_reason: str = ""
) -> Duty:
    """Give the chair to this member, replacing whoever holds it.

    A path that is not usable raises `DutyRefused` unless an officer overrules it with a written reason; every
    other refusal stands. The caller checks that `overruled_by` is an officer.
    """
    # The session row is the lock: two people filling one chair wait for each other.
    # Its own row only: PostgreSQL locks no row that may be missing, such as tonight's other relay.
    rows = Session.objects.select_for_update(of=("self",)).select_related("net", "relay")
    session = rows.get(pk=chair.session.pk)
    # And the member's, so that nobody gets two chairs of one evening from two net managers.
    Member.objects.select_for_update(no_key=True).get(pk=chair.member.pk)
    if session.duties.filter(member=chair.member).exclude(role=chair.role).exists():
        raise DutyRefused(f"{chair.member.call_sign} already has the other chair in this session.")
    reason = overrule_reason.strip()
    try:
        check(Chair(session, chair.role, chair.member, chair.station), now=now)
        reason = ""
    except DutyRefused as refusal:
        if not (refusal.may_be_overruled and overruled_by and reason):
            raise
        if len(reason) < MINIMUM_REASON:
            raise DutyRefused(
                f"“{reason}” is too short for a reason; write a sentence that the next officer will understand.",
                refusal.standing,
            ) from refusal
    current = session.duties.filter(role=chair.role).first()
    values = {
        "station": chair.station,
        "overrule_reason": reason,
        "overruled_by": overruled_by if reason else None,
    }
    if current is not None and current.member_id == chair.member.pk:
        for field, value in values.items():
            setattr(current, field, value)
        current.sequence += 1
        current.save()
        return current
    if current is not None:
        current.delete()
    _close_offers(session, chair.role, but_of=chair.member, now=now)
    return Duty.objects.create(session=session, role=chair.role, member=chair.member, **values)


def _close_offers(session: Session, role: str, *, but_of: Member | None, now: dt.datetime) -> None:
    """Withdraw the offers of this chair, to give or in return, by whoever does not sit in it any more."""
    offers = SwapOffer.objects.filter(state=SwapOffer.State.OPEN)
    given = offers.filter(session=session, role=role)
    asked = offers.filter(return_session=session, return_role=role)
    if but_of is not None:
        given, asked = given.exclude(offered_by=but_of), asked.exclude(offered_to=but_of)
    for rows in (given, asked):
        rows.update(state=SwapOffer.State.WITHDRAWN, settled_at=now)


@transaction.atomic
def answer(duty: Duty, *, confirmed: bool, now: dt.datetime) -> bool:
    """Record a member's yes or no. False when the answer was already that.

    What counts is the records of now, not the row as it was read: `duty` is brought up to date. Raises
    `DutyRefused` when there is nothing to answer any more, or when a no can no longer be taken back.
    """
    session, row = _locked(duty, now)
    state = Duty.State.CONFIRMED if confirmed else Duty.State.DECLINED
    changed = row.state != state
    if changed:
        if row.state == Duty.State.DECLINED:
            _require_still_possible(Chair(session, row.role, row.member, row.station), now=now)
        row.state, row.answered_at = state, now
        row.sequence += 1
        row.save(update_fields=["state", "answered_at", "sequence", "changed_at"])
        if not confirmed:
            _close_offers(session, row.role, but_of=None, now=now)
    duty.state, duty.answered_at, duty.sequence = row.state, row.answered_at, row.sequence
    return changed


@transaction.atomic
def use_station(duty: Duty, station: Station, *, now: dt.datetime) -> Duty:
    """Let the holder of a duty transmit from another station of theirs that evening.

    Raises `DutyRefused` when the relay does not hear them from there, or the duty is not theirs to change any more.
    """
    session, row = _locked(duty, now)
    if row.state == Duty.State.DECLINED:
        raise DutyRefused(
            "You have said that you cannot be there; take that back before you choose a station."
        )
    return assign(Chair(session, row.role, row.member, station), now=now)


def _locked(duty: Duty, now: dt.datetime) -> tuple[Session, Duty]:
    """The session and the duty as they are now and nobody else's to change meanwhile, if its holder may still speak."""
    # In the order of `assign`: the session, the member, the row.
    rows = Session.objects.select_for_update(of=("self",)).select_related("net", "relay")
    session = rows.filter(pk=duty.session_id).first()
    Member.objects.select_for_update(no_key=True).get(pk=duty.member_id)
    row = Duty.objects.select_for_update().filter(pk=duty.pk, member=duty.member_id).first()
    if session is None or row is None:
        raise DutyRefused("This duty is no longer yours; there is nothing to answer.")
    if session.starts_at <= now:
        raise DutyRefused("This session has begun or is over; there is nothing to answer.")
    if session.state != Session.State.SCHEDULED or not session.net.is_active:
        raise DutyRefused("This session has been called off; there is nothing to answer.")
    return session, row


def _require_still_possible(chair: Chair, *, now: dt.datetime) -> None:
    """What is asked of somebody who takes back a no; the path was judged when the turn was given."""
    try:
        check(chair, now=now)
    except DutyRefused as refusal:
        if not refusal.may_be_overruled:
            raise
