"""What the logs of a net add up to: attendance, who is missed, who sat in the chair how often."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from clubops.members.models import Member
from nets.models import CheckIn, Duty, Net, Session, SessionLog

SHOWN_SESSIONS = 26
# "Not heard lately" begins after this many sessions in a row without them. Common practice, no source.
MISSED = 4


@dataclass(frozen=True)
class Attendance:
    """One session: how many stations, how many of them visitors and how many for the first time."""

    session: Session
    stations: int
    visitors: int
    new: int
    is_called_off: bool = False

    @property
    def members(self) -> int:
        return self.stations - self.visitors


@dataclass(frozen=True)
class Missed:
    """A member who has not been heard for a while; `last_heard_on` is None for never on this net."""

    member: Member
    last_heard_on: dt.date | None
    sessions_since: int
    heard_before: int


@dataclass(frozen=True)
class Turns:
    """How often somebody was net control, beside their fair share of the turns that there were."""

    member: Member
    net_control: int
    backup: int
    fair_share: float

    @property
    def over(self) -> float:
        """Turns above (+) or below (-) the fair share."""
        return self.net_control - self.fair_share


@dataclass(frozen=True)
class Statistics:
    """Everything on the page; sessions oldest first."""

    net: Net
    attendance: tuple[Attendance, ...]
    missed: tuple[Missed, ...]
    never_heard: tuple[Member, ...]
    turns: tuple[Turns, ...]

    @property
    def held(self) -> tuple[Attendance, ...]:
        return tuple(each for each in self.attendance if not each.is_called_off)

    @property
    def mean_stations(self) -> float | None:
        held = self.held
        return sum(each.stations for each in held) / len(held) if held else None

    @property
    def most(self) -> Attendance | None:
        return max(self.held, key=lambda each: each.stations, default=None)

    @property
    def turns_taken(self) -> int:
        return sum(each.net_control for each in self.turns)


def statistics(net: Net, *, now: dt.datetime, sessions: int = SHOWN_SESSIONS) -> Statistics:
    """Over the last `sessions` sessions that began before `now` and were logged or called off."""
    past = net.sessions.filter(starts_at__lt=now).order_by("-starts_at")
    logged = past.filter(log__opened_at__isnull=False) | past.filter(state=Session.State.CANCELLED)
    chosen = sorted(logged.distinct()[:sessions], key=lambda each: each.starts_at)
    heard = _heard(net)
    missed, never = _missed(net, heard, now)
    return Statistics(
        net=net,
        attendance=tuple(_attendance(chosen, heard)),
        missed=tuple(missed),
        never_heard=tuple(never),
        turns=tuple(_turns(net, chosen)),
    )


def _heard(net: Net) -> list[CheckIn]:
    """Every check-in of the net, oldest session first: one query for all the counts."""
    rows = CheckIn.objects.filter(session__net=net, is_struck=False).select_related("session")
    return list(rows.order_by("session__starts_at", "heard_at"))


def _attendance(chosen: list[Session], heard: list[CheckIn]) -> Iterable[Attendance]:
    known: set[str] = set()
    stations: dict[int, dict[str, bool]] = {}
    new: Counter[int] = Counter()
    for row in heard:
        stations.setdefault(row.session_id, {}).setdefault(row.call_sign, row.is_visitor)
        if row.call_sign not in known:
            known.add(row.call_sign)
            new[row.session_id] += row.is_whole
    for session in chosen:
        came = stations.get(session.pk, {})
        called_off = session.state == Session.State.CANCELLED and not came
        yield Attendance(session, len(came), sum(came.values()), new[session.pk], called_off)


def _missed(net: Net, heard: list[CheckIn], now: dt.datetime) -> tuple[list[Missed], list[Member]]:
    """Members not heard in the last `MISSED` sessions, longest gone first; and those never heard at all."""
    held = list(
        net.sessions.filter(log__opened_at__isnull=False, starts_at__lt=now)
        .order_by("starts_at")
        .values_list("pk", "occurrence_date")
    )
    place = {pk: index for index, (pk, _date) in enumerate(held)}
    last: dict[int, CheckIn] = {}
    times: Counter[int] = Counter()
    for row in heard:
        if row.member_id is not None and row.session_id in place:
            if row.member_id not in last or last[row.member_id].session_id != row.session_id:
                times[row.member_id] += 1
            last[row.member_id] = row
    missed, never = [], []
    for member in Member.objects.filter(is_active=True):
        row_ = last.get(member.pk)
        if row_ is None:
            never.append(member)
            continue
        since = len(held) - 1 - place[row_.session_id]
        if since >= MISSED:
            missed.append(Missed(member, row_.session.occurrence_date, since, times[member.pk]))
    return sorted(missed, key=lambda each: (-each.sessions_since, each.member.call_sign)), never


def _turns(net: Net, chosen: list[Session]) -> list[Turns]:
    """Turns in the chosen sessions that took place, and the share that willingness gives each volunteer.

    Net control is who the log says it was, else who the rota said. A volunteer's share is their willingness
    over everybody's; somebody who took a turn without volunteering has a share of nothing.
    """
    held = [each for each in chosen if each.state != Session.State.CANCELLED]
    logs = SessionLog.objects.filter(session__in=held).exclude(net_control=None)
    ran = dict(logs.values_list("session_id", "net_control_id"))
    backups: Counter[int] = Counter()
    for duty in Duty.objects.filter(session__in=held).exclude(state=Duty.State.DECLINED):
        if duty.role == Duty.Role.NET_CONTROL:
            ran.setdefault(duty.session_id, duty.member_id)
        else:
            backups[duty.member_id] += 1
    turns = Counter(ran.values())
    people = list(Member.objects.filter(is_active=True, takes_the_chair=True))
    people += list(Member.objects.filter(pk__in=turns).exclude(pk__in=[each.pk for each in people]))
    willing = sum(each.willingness for each in people if each.takes_the_chair and each.is_active)
    rows = []
    for member in people:
        volunteers = member.takes_the_chair and member.is_active
        share = sum(turns.values()) * member.willingness / willing if volunteers and willing else 0.0
        rows.append(Turns(member, turns[member.pk], backups[member.pk], share))
    return sorted(rows, key=lambda each: (-each.net_control, each.member.call_sign))
