"""Turns passed from one member to another: offered, taken, or found a stand-in for.

Taking a turn checks what the rota checks: that the person is free, that the relay hears them, and that the rules
hold for everybody whose chair changes. Both halves of an exchange happen or neither does.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import IntegrityError, transaction
from django.db.models import Exists, OuterRef, Q, QuerySet

from clubops.members.models import Member, Station
from nets import duties, swap_letters
from nets.models import Duty, Session, SwapOffer
from nets.rota import shares
from nets.rota.problem import Person, Turn
from nets.rota.rules import breaches
from nets.rota.seating import Seating, Usher, decibels
from nets.rota.world import LONGEST_GAP, Terms, person_of, seat_of, takers, turn_of, with_all

# A member's own wishes bind a swap; what the club asks of a new rota does not.
NO_TERMS = Terms(minimum_gap_days=0)


class SwapRefused(ValueError):
    """An offer that cannot be made or taken. The message is a sentence for people."""


# Checking ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Move:
    """A chair and the member who would come to sit in it."""

    session: Session
    role: str
    member: Member


def turns_near(sessions: list[Session]) -> list[Turn]:
    """Every turn that can clash with one in these sessions or counts in their quarters."""
    first = min(session.starts_at for session in sessions) - LONGEST_GAP
    last = max(session.starts_at for session in sessions) + LONGEST_GAP
    rows = (
        Duty.objects.filter(session__starts_at__gte=first, session__starts_at__lte=last)
        .exclude(state=Duty.State.DECLINED)
        .exclude(session__state=Session.State.CANCELLED)
        .select_related("member", "session__net")
    )
    return [turn_of(duty) for duty in rows]


def breach_of(moves: list[Move]) -> str:
    """The first rule these moves would break, in a sentence; empty when they are in order.

    Looks at the chairs as they would be afterwards, and at everybody in the sessions concerned: a newcomer left
    without an experienced backup is a breach too.
    """
    before = turns_near([move.session for move in moves])
    people = _people({turn.person for turn in before} | {move.member.call_sign for move in moves})
    return _breach_among(moves, before, people)


def _breach_among(moves: list[Move], before: list[Turn], people: dict[str, Person]) -> str:
    changed = {(str(move.session.pk), move.role) for move in moves}
    others = [turn for turn in before if (turn.seat.session, turn.seat.role) not in changed]
    made = [Turn(seat_of(move.session, move.role), move.member.call_sign) for move in moves]
    after = [*others, *made]
    beside = [turn for turn in others if turn.seat.session in {session for session, _role in changed}]
    for turn in made:
        for breach in breaches(turn, after, people):
            return f"{turn.person} {breach.words}."
    for turn in beside:
        for breach in breaches(turn, after, people):
            if breach.rule == "newcomer":
                return f"{turn.person} {breach.words}."
    return ""


def _people(call_signs: set[str]) -> dict[str, Person]:
    members = with_all(Member.objects.filter(call_sign__in=call_signs))
    return {member.call_sign: person_of(member, NO_TERMS) for member in members}


# Offering ------------------------------------------------------------------------------------------


def offer(
    duty: Duty,
    *,
    to: Member | None = None,
    in_return: Duty | None = None,
    note: str = "",
    expires_at: dt.datetime | None = None,
    now: dt.datetime,
) -> SwapOffer:
    """Offer one's turn to somebody or to anybody; with `in_return`, for that turn of theirs.

    Open until `expires_at`, or until the session begins. Raises SwapRefused.
    """
    session = duty.session
    last = min(each.starts_at for each in (session, in_return.session if in_return else session))
    if session.state != Session.State.SCHEDULED or last <= now:
        raise SwapRefused("Only a turn that is still ahead can be offered.")
    if duty.state == Duty.State.DECLINED:
        raise SwapRefused(
            "You have declined this turn already; the net manager is looking for somebody else."
        )
    if to is not None and to.pk == duty.member_id:
        raise SwapRefused("You cannot offer a turn to yourself.")
    if to is not None and not to.is_active:
        raise SwapRefused(f"{to.call_sign} is no longer an active member.")
    if in_return is not None and (to is None or in_return.member_id != to.pk):
        raise SwapRefused("A turn in return is one that the person you ask holds; choose the person first.")
    if expires_at is not None and expires_at <= now:
        raise SwapRefused("The offer would end before it begins; choose a later time.")
    try:
        with transaction.atomic():
            duties.lock([session.pk])
            _held(session, duty.role, duty.member)
            _close_dead(session, duty.role, of=duty.member, now=now)
            made = SwapOffer.objects.create(
                session=session,
                role=duty.role,
                offered_by=duty.member,
                offered_to=to,
                return_session=in_return.session if in_return else None,
                return_role=in_return.role if in_return else "",
                note=note.strip(),
                made_at=now,
                expires_at=min(expires_at, last) if expires_at else last,
            )
            swap_letters.tell(made, now=now)
            return made
    except IntegrityError:
        raise SwapRefused(
            "This turn is on offer already; withdraw that offer before you make another."
        ) from None


def _close_dead(session: Session, role: str, *, of: Member, now: dt.datetime) -> None:
    """End what would stand in the way of a new offer: one of an earlier holder, one whose time is over."""
    rows = SwapOffer.objects.filter(session=session, role=role, state=SwapOffer.State.OPEN)
    rows.filter(expires_at__lte=now).update(state=SwapOffer.State.EXPIRED, settled_at=now)
    rows.exclude(offered_by=of).update(state=SwapOffer.State.WITHDRAWN, settled_at=now)


def open_offers(*, now: dt.datetime) -> QuerySet[SwapOffer]:
    """Offers that can still be taken, the nearest session first.

    One of a session that was called off, or by somebody who has no longer the chair, is not among them; it is
    again when the session is put back.
    """
    rows = SwapOffer.objects.filter(
        state=SwapOffer.State.OPEN,
        expires_at__gt=now,
        session__state=Session.State.SCHEDULED,
        session__net__is_active=True,
    )
    standing = Duty.objects.exclude(state=Duty.State.DECLINED).exclude(session__state=Session.State.CANCELLED)
    given = standing.filter(session=OuterRef("session"), role=OuterRef("role"), member=OuterRef("offered_by"))
    back = standing.filter(
        session=OuterRef("return_session"), role=OuterRef("return_role"), member=OuterRef("offered_to")
    )
    rows = rows.filter(Exists(given)).filter(Q(return_session=None) | Exists(back))
    related = ("session__net__relay__site", "session__relay__site", "offered_by", "offered_to")
    return rows.select_related(*related, "return_session__net").order_by("session__starts_at")


def offers_for(member: Member, *, now: dt.datetime) -> QuerySet[SwapOffer]:
    """What others offer this member, by name or to anybody; nothing to who does not take the chair."""
    if not takers().filter(pk=member.pk).exists():
        return SwapOffer.objects.none()
    return open_offers(now=now).filter(Q(offered_to=member) | Q(offered_to=None)).exclude(offered_by=member)


def _settle(offer: SwapOffer, state: str, *, now: dt.datetime, **fields: object) -> bool:
    """Move an open offer to its end by one conditional update; false when somebody else was first."""
    rows = SwapOffer.objects.filter(pk=offer.pk, state=SwapOffer.State.OPEN)
    return bool(rows.update(state=state, settled_at=now, **fields))


def withdraw(offer: SwapOffer, *, by: Member, now: dt.datetime) -> None:
    """Take one's own offer back. Raises SwapRefused."""
    if offer.offered_by_id != by.pk:
        raise SwapRefused("Only the person who made this offer can withdraw it.")
    if not _settle(offer, SwapOffer.State.WITHDRAWN, now=now):
        raise SwapRefused(_why_not_open(offer, now=now))


def decline(offer: SwapOffer, *, by: Member, now: dt.datetime) -> None:
    """Say no to an offer made to oneself; its maker is told. Raises SwapRefused."""
    if offer.offered_to_id != by.pk:
        raise SwapRefused("This offer was not made to you.")
    with transaction.atomic():
        if not _settle(offer, SwapOffer.State.DECLINED, now=now):
            raise SwapRefused(_why_not_open(offer, now=now))
        swap_letters.tell_maker(offer, now=now)


def expire(*, now: dt.datetime) -> int:
    """Close the offers whose time has passed, and tell their makers; how many. Reading never shows them as open."""
    rows = SwapOffer.objects.filter(state=SwapOffer.State.OPEN, expires_at__lte=now)
    return sum(_expire(offer, now) for offer in rows.select_related("session__net").order_by("pk"))


@transaction.atomic
def _expire(offer: SwapOffer, now: dt.datetime) -> bool:
    closed = _settle(offer, SwapOffer.State.EXPIRED, now=now)
    if closed:
        swap_letters.tell_maker(offer, now=now)
    return closed


def _why_not_open(offer: SwapOffer, *, now: dt.datetime) -> str:
    offer.refresh_from_db()
    if offer.state == SwapOffer.State.ACCEPTED and offer.taken_by is not None:
        return f"{offer.taken_by.call_sign} was first: the turn is taken."
    if offer.state in {SwapOffer.State.WITHDRAWN, SwapOffer.State.DECLINED}:
        return f"This offer was {offer.get_state_display()}."
    return "This offer is no longer open."


# Taking --------------------------------------------------------------------------------------------


def accept(offer: SwapOffer, *, by: Member, now: dt.datetime, station: Station | None = None) -> SwapOffer:
    """Take the turn, and give the one asked in return. Raises SwapRefused; then nothing has changed.

    `station` is where `by` will be that evening, if not at their main station.

    The claim is one conditional update that must change exactly one row, so of two people at once one waits for
    the other and then finds the offer taken. All of it is one transaction: a check that fails, or a crash, opens
    the offer again.
    """
    try:
        with transaction.atomic():
            return _accept(offer, by, station, now)
    except duties.DutyRefused as refusal:
        raise SwapRefused(refusal.sentence) from refusal


def _accept(offer: SwapOffer, by: Member, station: Station | None, now: dt.datetime) -> SwapOffer:
    if offer.offered_by_id == by.pk:
        raise SwapRefused("This is your own offer; withdraw it if you want to keep the turn.")
    if offer.offered_to_id not in (None, by.pk):
        raise SwapRefused("This offer was made to somebody else.")
    if not takers().filter(pk=by.pk).exists():
        raise SwapRefused(
            f"{by.call_sign} is not down as taking the chair; an officer marks the volunteers in the roster."
        )
    # Before the claim: whoever gives one of these chairs meanwhile ends its offers, and would wait for this one.
    duties.lock([offer.session_id, offer.return_session_id], [by.pk, offer.offered_by_id])
    if not offer.is_open(now) or not _settle(offer, SwapOffer.State.ACCEPTED, now=now, taken_by=by):
        raise SwapRefused(_why_not_open(offer, now=now))
    offer.refresh_from_db()
    moves = [Move(offer.session, offer.role, by)]
    given = [_held(offer.session, offer.role, offer.offered_by)]
    if offer.return_session is not None:
        moves.append(Move(offer.return_session, offer.return_role, offer.offered_by))
        given.append(_held(offer.return_session, offer.return_role, by))
    if broken := breach_of(moves):
        raise SwapRefused(broken)
    for duty in given:
        duty.delete()
    for move in moves:
        chosen = duties.station_for(move.member, station if move.member == by else None)
        made = duties.assign(duties.Chair(move.session, move.role, move.member, chosen), now=now)
        # Taking a turn is saying yes to it, and so was offering to take one in return.
        duties.answer(made, confirmed=True, now=now)
    return offer


def _held(session: Session, role: str, member: Member) -> Duty:
    """The duty as it is now. Raises SwapRefused when it is not that member's any more."""
    duty = Duty.objects.filter(session=session, role=role, member=member).first()
    if duty is None or duty.state == Duty.State.DECLINED:
        raise SwapRefused(f"{member.call_sign} no longer holds that turn, so it cannot change hands.")
    return duty


# Stand-ins -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Substitute:
    """Somebody who might take a chair over. `why` says how they stand, in a sentence."""

    member: Member
    seating: Seating
    share: shares.Share | None
    obstacle: str

    @property
    def is_able(self) -> bool:
        return not self.obstacle

    @property
    def why(self) -> str:
        """How they stand, with their name."""
        return f"{self.member.call_sign} {self.obstacle or 'is ' + self.how}."

    @property
    def how(self) -> str:
        """Freedom, path and share of somebody who could take it."""
        standing = self.seating.standing
        path = "no relay to reach"
        if standing is not None and standing.verdict is not None:
            found = standing.verdict
            path = f"the path is {found.label}, margin {decibels(found.margin_db)}"
        return f"free; {path}; has {self.share.words if self.share else 'no turn of late'}"

    @property
    def order(self) -> tuple[bool, int, float, float, str]:
        """Free people first; among them a path with margin to spare, then the smallest share, then the margin."""
        standing = self.seating.standing
        margin_db = standing.verdict.margin_db if standing and standing.verdict else 0.0
        over = self.share.over / self.member.willingness if self.share else 0.0
        return not self.is_able, self.seating.path_cost, over, -margin_db, self.member.call_sign


def substitutes(duty: Duty, *, now: dt.datetime) -> list[Substitute]:
    """Everybody else who takes the chair, ranked by freedom, path and fairness."""
    session = duty.session
    usher = Usher(now, refused=_refusals(session))
    ahead = max(session.ends_at - now, dt.timedelta(weeks=12))
    by_member = {share.member.pk: share for share in shares.present(now=now, ahead=ahead)}
    before = turns_near([session])
    candidates = list(takers().exclude(pk=duty.member_id))
    people = _people({turn.person for turn in before} | {member.call_sign for member in candidates})
    found = []
    for member in candidates:
        seating = usher.seat(member, session)
        obstacle = seating.bar.words if seating.bar else ""
        if not obstacle:
            broken = _breach_among([Move(session, duty.role, member)], before, people)
            obstacle = broken.removeprefix(f"{member.call_sign} ").removesuffix(".")
        found.append(Substitute(member, seating, by_member.get(member.pk), obstacle))
    return sorted(found, key=lambda each: each.order)


def obstacle(duty: Duty, to: Member, *, in_return: Duty | None = None, now: dt.datetime) -> str:
    """Why this person could not take the turn as things are, in a sentence; empty when they could."""
    seating = Usher(now, refused=_refusals(duty.session)).seat(to, duty.session)
    if seating.bar:
        return f"{to.call_sign} {seating.bar.words}."
    moves = [Move(duty.session, duty.role, to)]
    if in_return is not None:
        moves.append(Move(in_return.session, in_return.role, duty.member))
    return breach_of(moves)


def hand_over(duty: Duty, to: Member, *, now: dt.datetime) -> Duty:
    """Give a turn to a stand-in at once, as a net manager does; they still have to confirm. Raises SwapRefused."""
    try:
        with transaction.atomic():
            duties.lock([duty.session_id], [to.pk])
            if broken := breach_of([Move(duty.session, duty.role, to)]):
                raise SwapRefused(broken)
            return duties.assign(duties.Chair(duty.session, duty.role, to, duties.station_for(to)), now=now)
    except duties.DutyRefused as refusal:
        raise SwapRefused(refusal.sentence) from refusal


def _refusals(session: Session) -> set[tuple[int, int]]:
    declined = session.duties.filter(state=Duty.State.DECLINED).values_list("member_id", "session_id")
    return set(declined) | set(session.refusals.values_list("member_id", "session_id"))
