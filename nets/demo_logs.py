"""The demo's past: a quarter of evenings on the air, invented the same way every time.

Who is heard follows the predicted margin with a scatter, so that the page that compares predictions with check-ins
has something to compare. It proves nothing about the predictions: they made the data.
"""

from __future__ import annotations

import datetime as dt
import random
import uuid
from dataclasses import dataclass

from clubops import clock
from clubops.members.models import Member
from nets import duties, schedule
from nets.checkins import entries, keeping, rollcall
from nets.models import Net, Session, SessionLog
from relays import paths
from relays.models import Relay

WEEKS = 13
# Scatter of one evening about its prediction, dB: common practice, no source.
SCATTER_DB = 8.0
REMARKS = (
    "Ask the stewards about the hiss on the tail.",
    "Two newcomers would like an evening about antennas.",
    "",
    "Weather watch next week: start with the priority call.",
)
VISITORS = (
    ("QX4TAB", "Tamsin", "Ferry End"),
    ("QW7LUN", "Luned", "Salt Bay"),
    ("QV3ROW", "Rowan", "Low Fold"),
    ("QY5PEL", "Pelle", "Norrby"),
)


@dataclass(frozen=True)
class Voice:
    """Somebody who may call in, and the margin with which the relay should hear them."""

    member: Member
    margin_db: float | None


def write_up(net: Net, *, now: dt.datetime) -> int:
    """Log the past sessions of a net that has no log yet; how many. Guests keep their own; again changes nothing."""
    if net.guest_of or SessionLog.objects.filter(session__net=net).exists():
        return 0
    span = clock.Span(now - dt.timedelta(weeks=WEEKS), now - dt.timedelta(days=1))
    meetings = schedule.given(schedule.rules_of(net), span)
    voices = _voices(net.relay, now)
    heard = [each.member for each in voices if net.relay is None or (each.margin_db or 0) > 0]
    volunteers = [member for member in heard if member.takes_the_chair]
    for number, meeting in enumerate(meetings):
        session, _made = Session.objects.get_or_create(
            net=net,
            occurrence_date=meeting.date,
            defaults={"starts_at": meeting.starts_at, "ends_at": meeting.ends_at},
        )
        if number == len(meetings) // 2:
            schedule.call_off(session, note="Called off: ice on the mast.")
        elif volunteers:
            _evening(session, voices, volunteers[number % len(volunteers)], number)
    return len(meetings)


def _voices(relay: Relay | None, now: dt.datetime) -> list[Voice]:
    found = []
    for member in Member.objects.filter(is_active=True):
        station = duties.station_for(member)
        stored = paths.verdict_now(station, relay, now=now) if station and relay else None
        found.append(Voice(member, stored.talk_in_margin_db if stored else None))
    return found


def _evening(session: Session, voices: list[Voice], control: Member, number: int) -> None:
    """One session from opening to closing, written by whoever was in the chair."""
    dice = random.Random(f"{session.net.slug}/{session.occurrence_date}")
    by, start = control.call_sign, session.starts_at
    keeping.open_log(session, by=by, now=start, net_control=control)
    rollcall.make(session, order="usual", now=start, by=by)
    at = start
    for voice in dice.sample(voices, len(voices)):
        if voice.member == control or dice.random() > 0.7:
            continue
        at += dt.timedelta(seconds=dice.randint(40, 140))
        _call_in(session, voice, dice, by, at)
    for call_sign, name, place in dice.sample(VISITORS, dice.choice((0, 0, 1, 2))):
        at += dt.timedelta(seconds=dice.randint(40, 140))
        given = {"call_sign": call_sign, "name": name, "place": place, "via": dice.choice(("", "link"))}
        _write(session, given, by, at)
    heard = set(session.check_ins.values_list("call_sign", flat=True))
    for line in session.roll.exclude(call_sign__in=heard):
        rollcall.set_state(session, line.key, "no_answer", by=by, now=at)
    end = max(at + dt.timedelta(minutes=8), start + dt.timedelta(minutes=30))
    keeping.close_log(session, by=by, now=end, remark=REMARKS[number % len(REMARKS)])


def _call_in(session: Session, voice: Voice, dice: random.Random, by: str, at: dt.datetime) -> None:
    """Over the relay where tonight's margin allows; else now and then through somebody else, else not at all."""
    tonight_db = 20.0 if voice.margin_db is None else voice.margin_db + dice.gauss(0, SCATTER_DB)
    given = {"call_sign": voice.member.call_sign, "traffic": dice.choice(("",) * 12 + ("routine", "welfare"))}
    if tonight_db < 0:
        if dice.random() < 0.5:
            _write(session, given | {"via": "station"}, by, at)
        return
    readability = 5 if tonight_db > 12 else 4 if tonight_db > 6 else 3
    strength = max(1, min(9, round(2 + tonight_db / 5)))
    _write(session, given | {"report": f"{readability}{strength}"}, by, at)


def _write(session: Session, given: dict[str, str], by: str, at: dt.datetime) -> None:
    entries.record(session, given | {"heard_at": at.isoformat()}, key=uuid.uuid4(), by=by, now=at)
