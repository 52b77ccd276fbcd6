"""What saving an edited net would do to its coming sessions and to people, said before it is done."""

from __future__ import annotations

import copy
import datetime as dt
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from clubops import clock
from clubops.templatetags.measures import whole_date, zone_words
from nets import duties, rule_changes, schedule
from nets.models import Duty, Net, Session
from nets.rule_changes import Succession
from nets.schedule import Difference, Given, Terms

NAMED = 4
LIMITS = ("minimum_margin_db", "minimum_probability")


@dataclass(frozen=True)
class Foretold:
    """What would happen, in sentences; empty when nobody would notice. `succession` is what would be saved."""

    succession: Succession
    sentences: tuple[str, ...] = ()

    @property
    def asks(self) -> bool:
        """Whether somebody should say yes first."""
        return bool(self.sentences)

    @property
    def digest(self) -> str:
        """Names exactly these sentences, so that a yes to others does not pass for one to these."""
        return hashlib.sha256("\n".join(self.sentences).encode()).hexdigest()[:16]


def foretell(edited: Net, *, now: dt.datetime) -> Foretold:
    """Compare the coming sessions with what they would become. `edited` may be unsaved; nothing is saved."""
    found = rule_changes.succeed(edited, now=now)
    if edited.pk is None:
        return Foretold(found)
    stored = Net.objects.select_related("relay").get(pk=edited.pk)
    change = schedule.difference(edited, found.rules, now=now)
    # What is only not planned yet is no news.
    known = {each.date for each in schedule.difference(stored, schedule.rules_of(stored), now=now).made}
    change = replace(change, made=[each for each in change.made if each.date not in known])
    coming = [*change.kept, *change.retimed]
    elsewhere = [pair for pair in coming if _is_elsewhere(pair, stored)]
    sentences = [
        *_replaced(change, stored, edited),
        *_retimed(change.retimed, stored, edited),
        *_elsewhere(elsewhere, stored),
        *_put_back(change.put_back),
        *_called_off(change.called_off),
        *_troubles(coming, change, elsewhere, stored, edited, now),
    ]
    if sentences and found.changes and found.earlier and edited.is_active:
        last = whole_date(found.earlier[-1].last_date)
        sentences.append(f"What was planned up to {last} stays as it is, in calendars too.")
    return Foretold(found, tuple(sentences))


# Sessions ------------------------------------------------------------------------------------------


def _replaced(change: Difference, stored: Net, edited: Net) -> Iterable[str]:
    """Sessions that fall away and those that take their place."""
    gone = sorted([*change.called_off, *change.removed], key=lambda each: each.starts_at)
    fallen = [clock.to_wall(each.starts_at, stored.zone) for each in gone]
    new = [clock.to_wall(each.starts_at, edited.zone) for each in change.made]
    if gone and new:
        old_day, new_day = _weekday(fallen), _weekday(new)
        if old_day and new_day and old_day != new_day:
            moved = f"{_count(gone, 'coming session')} on {old_day} give way to {len(new)} on {new_day}"
        else:
            moved = f"{_count(gone, 'coming session')} fall away and {len(new)} are added"
        rest = "; later ones are planned as their time comes" if gone[-1].starts_at >= change.until else ""
        yield f"{moved}, the first on {_day(new[0])}{rest}."
    elif gone:
        yield f"{_count(gone, 'coming session')} fall{'s' if len(gone) == 1 else ''} away: {_days(fallen)}."
    elif new:
        yield f"{_count(new, 'session')} {'is' if len(new) == 1 else 'are'} added, the first on {_day(new[0])}."


def _retimed(pairs: Sequence[tuple[Session, Given]], stored: Net, edited: Net) -> Iterable[str]:
    # One that was moved by hand keeps its start; only its length can change.
    plain = [pair for pair in pairs if pair[0].moved_to is None]
    if plain:
        session, wanted = plain[0]
        was, is_now = session.terms if session.earlier_rule_id else stored, wanted.terms
        new = _hours(wanted.starts_at, wanted.ends_at, is_now.zone)
        old = _hours(session.starts_at, session.ends_at, was.zone)
        if was.zone == is_now.zone:
            old = old.removesuffix(f" {zone_words(was.zone)}")
        dates = "keeps its date" if len(plain) == 1 else "keep their dates"
        yield f"{_count(plain, 'coming session')} {dates} and will be from {new}, not {old}."
    if moved := [pair for pair in pairs if pair[0].moved_to is not None]:
        yield f"{_count(moved, 'session')} moved by hand will last {edited.duration_min} minutes from the same start."


def _is_elsewhere(pair: tuple[Session, Given], stored: Net) -> bool:
    """Whether the session would be in another place on the air; one on another relay by hand stays there."""
    session, wanted = pair
    was: Terms = session.earlier_rule or stored
    return session.relay_id is None and (was.relay_id, was.simplex_mhz) != (
        wanted.terms.relay_id,
        wanted.terms.simplex_mhz,
    )


def _elsewhere(pairs: Sequence[tuple[Session, Given]], stored: Net) -> Iterable[str]:
    if pairs:
        session, wanted = pairs[0]
        yield (
            f"{_count(pairs, 'coming session')} will be on {_place(wanted.terms)} instead of "
            f"{_place(session.earlier_rule or stored)}."
        )


def _put_back(sessions: Sequence[Session]) -> Iterable[str]:
    if sessions:
        walls = [clock.to_wall(each.starts_at, each.net.zone) for each in sessions]
        yield f"{_count(sessions, 'session')} called off by the last change will be put back: {_days(walls)}."


# People --------------------------------------------------------------------------------------------


def _called_off(sessions: Iterable[Session]) -> Iterable[str]:
    held = [duty for session in sessions for duty in _held(session)]
    if held:
        yield f"{_count(held, 'duty', 'duties')} will be called off: {_named(held)}."


def _troubles(
    coming: Sequence[tuple[Session, Given]],
    change: Difference,
    elsewhere: Sequence[tuple[Session, Given]],
    stored: Net,
    edited: Net,
    now: dt.datetime,
) -> Iterable[str]:
    """People who keep their chair and could not take it as it would be."""
    stricter = any(getattr(stored, name) != getattr(edited, name) for name in LIMITS)
    touched = coming if stricter else [*change.retimed, *elsewhere]
    staying = {
        session.pk: (session, wanted)
        for session, wanted in touched
        if session.state == Session.State.SCHEDULED
    }
    kept = [duty for session, _ in staying.values() for duty in _held(session)]
    if kept:
        yield f"{_count(kept, 'duty stays', 'duties stay')} with their sessions: {_named(kept)}."
    again = [
        duty
        for session, wanted in staying.values()
        for duty in _held(session)
        if schedule.is_asked_again(duty, session.starts_at, session.moved_to or wanted.starts_at)
    ]
    if again:
        yield f"{_count(again, 'person', 'people')} who said yes to the old time will be asked again: {_named(again)}."
    for session, wanted in staying.values():
        as_it_would_be = _as_it_would_be(session, wanted, edited)
        for duty in _held(session):
            try:
                duties.check(duties.Chair(as_it_would_be, duty.role, duty.member, duty.station), now=now)
            except duties.DutyRefused as refusal:
                if not (refusal.may_be_overruled and duty.overrule_reason):
                    yield f"For {_duty(duty)} somebody else is needed: {refusal.sentence}"


def _as_it_would_be(session: Session, wanted: Given, edited: Net) -> Session:
    """The session as planning would leave it: what is asked of the person in the chair is asked of this."""
    row = copy.copy(session)
    row.starts_at = session.moved_to or wanted.starts_at
    row.ends_at = row.starts_at + wanted.terms.duration
    row.net = edited
    row.relay = session.relay or wanted.terms.relay
    return row


def _held(session: Session) -> list[Duty]:
    return [duty for duty in session.duties.all() if duty.state != Duty.State.DECLINED]


# Words ---------------------------------------------------------------------------------------------


def _count(rows: Sequence[object], one: str, many: str = "") -> str:
    return f"1 {one}" if len(rows) == 1 else f"{len(rows)} {many or one + 's'}"


def _weekday(walls: Iterable[dt.datetime]) -> str:
    """The one weekday of them all, or nothing."""
    names = {f"{wall:%A}" for wall in walls}
    return names.pop() if len(names) == 1 else ""


def _day(wall: dt.datetime) -> str:
    return f"{wall:%A} {whole_date(wall.date())}"


def _days(walls: Sequence[dt.datetime]) -> str:
    named = ", ".join(_day(wall) for wall in walls[:NAMED])
    return named if len(walls) <= NAMED else f"{named} and {len(walls) - NAMED} more"


def _hours(start: dt.datetime, end: dt.datetime, zone: str) -> str:
    return f"{clock.to_wall(start, zone):%H:%M} to {clock.to_wall(end, zone):%H:%M} {zone_words(zone)}"


def _place(terms: Terms) -> str:
    return terms.relay.name if terms.relay else f"{terms.simplex_mhz:.3f} MHz simplex"


def _duty(duty: Duty) -> str:
    session = duty.session
    return f"{duty.get_role_display()} on {_day(clock.to_wall(session.starts_at, session.net.zone))}"


def _named(held: Sequence[Duty]) -> str:
    names = "; ".join(f"{duty.member.call_sign}, {_duty(duty)}" for duty in held[:NAMED])
    return names if len(held) <= NAMED else f"{names}; and {len(held) - NAMED} more"
