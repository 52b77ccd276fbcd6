"""The roll: whom net control calls, in which order, and who gave no answer.

Common practice, no source: a roll is read by call sign or in the order in which people usually come in.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict
from dataclasses import dataclass, field
from statistics import median

from django.db.models import Max

from clubops.members import callsigns
from clubops.members.models import Member
from nets import duties
from nets.checkins.keeping import LogRefused, turn_page, writing
from nets.checkins.typed import read_call_sign
from nets.models import CheckIn, RollCall, Session
from relays import paths

# Who came to at least REGULAR of the last LOOK_BACK sessions of the net is on its roll.
LOOK_BACK = 8
REGULAR = 2
ORDERS = {"usual": "in the order they usually come in", "call_sign": "by call sign"}


@dataclass
class _Habit:
    """How often a station came, and how many minutes after the start."""

    sessions: set[int] = field(default_factory=set)
    minutes: list[float] = field(default_factory=list)
    name: str = ""
    member: Member | None = None


def regulars(session: Session) -> dict[str, _Habit]:
    """Call sign to habit, for the stations that came often enough to be on the roll."""
    earlier = (
        Session.objects.filter(net=session.net, starts_at__lt=session.starts_at, check_ins__is_struck=False)
        .distinct()
        .order_by("-starts_at")
        .values_list("pk", flat=True)[:LOOK_BACK]
    )
    habits: dict[str, _Habit] = defaultdict(_Habit)
    rows = CheckIn.objects.filter(session__in=list(earlier), is_struck=False).select_related(
        "session", "member"
    )
    for row in rows:
        if not callsigns.is_well_formed(row.call_sign):
            continue
        habit = habits[row.call_sign]
        habit.sessions.add(row.session_id)
        habit.minutes.append((row.heard_at - row.session.starts_at).total_seconds() / 60)
        habit.name, habit.member = row.name or habit.name, row.member or habit.member
    return {call_sign: habit for call_sign, habit in habits.items() if len(habit.sessions) >= REGULAR}


def make(session: Session, *, order: str, now: dt.datetime, by: str) -> int:
    """Put the regulars on the roll in this order (a key of `ORDERS`), after whoever is on it; how many came new.

    The one in the chair is left out. Raises `LogRefused` for an order that is none.
    """
    if order not in ORDERS:
        raise LogRefused(f"“{order}” is no order of a roll call; use {' or '.join(ORDERS)}.")
    found = regulars(session)
    names = sorted(found)
    if order == "usual":
        names.sort(key=lambda name: median(found[name].minutes))
    with writing(session) as log:
        there = set(session.roll.values_list("call_sign", flat=True))
        if log.net_control:
            there.add(log.net_control.call_sign)
        new = [name for name in names if name not in there]
        for call_sign in new:
            habit = found[call_sign]
            _append(session, call_sign, habit.name, habit.member, by, turn_page(log))
        return len(new)


def _append(
    session: Session, call_sign: str, name: str, member: Member | None, by: str, version: int
) -> RollCall:
    last = session.roll.aggregate(last=Max("position"))["last"]
    relay = session.relay_in_use
    station = duties.station_for(member) if member else None
    stored = paths.fresh_verdict(station, relay) if station and relay else None
    return RollCall.objects.create(
        session=session,
        position=0 if last is None else last + 1,
        call_sign=call_sign,
        name=name or (member.name if member else ""),
        member=member,
        changed_by=by,
        predicted_margin_db=stored.talk_in_margin_db if stored else None,
        version=version,
    )


def add(session: Session, text: str, *, by: str) -> RollCall:
    """Put one call sign at the end of the roll, or back on it. Raises `TypedError`."""
    call_sign = read_call_sign(text)
    with writing(session) as log:
        line = session.roll.filter(call_sign=call_sign).first()
        if line is None:
            member = Member.objects.filter(call_sign=call_sign).first()
            return _append(session, call_sign, "", member, by, turn_page(log))
        if line.state == RollCall.State.OFF:
            line.state, line.changed_by, line.version = RollCall.State.WAITING, by, turn_page(log)
            line.save()
        return line


def set_state(session: Session, key: uuid.UUID, state: str, *, by: str, now: dt.datetime) -> RollCall:
    """Mark a line as called without answer, as still to be called, or as off the list. Raises `LogRefused`."""
    if state not in RollCall.State.values:
        known = ", ".join(RollCall.State.values)
        raise LogRefused(f"“{state}” is no state of a line of the roll; use one of {known}.")
    with writing(session) as log:
        line = session.roll.filter(key=key).first()
        if line is None:
            raise LogRefused("That line is not on the roll of this session.")
        if line.state != state:
            line.state, line.changed_by, line.called_at = state, by, now
            line.version = turn_page(log)
            line.save()
        return line
