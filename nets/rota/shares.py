"""Turns against fair shares: who has carried how much, and who would be next."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from clubops.clock import Span
from clubops.members.models import Member
from nets.models import Duty, Session
from nets.rota.problem import BACKUP, NET_CONTROL
from nets.rota.world import HISTORY, takers, turn_of


@dataclass(frozen=True)
class Share:
    """One person's turns in a span, and what a fair share of them would be.

    load: 2 for a turn as net control, 1 as backup. fair_load: the whole load by shares.
    """

    member: Member
    net_control: int
    backup: int
    load: int
    fair_load: float

    @property
    def over(self) -> float:
        """Load above the fair share; negative when there is room."""
        return self.load - self.fair_load

    @property
    def words(self) -> str:
        """How the load stands against the fair share, in words; a turn as backup either way is fair."""
        if self.over > 1:
            return "more than a fair share"
        if self.over < -1:
            return "less than a fair share"
        return "a fair share"


def shares_in(span: Span) -> list[Share]:
    """Everybody who takes the chair and everybody who held a turn begun in the span, by call sign."""
    rows = (
        Duty.objects.filter(session__starts_at__gte=span.start, session__starts_at__lt=span.end)
        .exclude(state=Duty.State.DECLINED)
        .exclude(session__state=Session.State.CANCELLED)
        .select_related("member", "session__net")
    )
    turns: dict[int, list[Duty]] = defaultdict(list)
    everybody = {member.pk: member for member in takers()}
    for duty in rows:
        turns[duty.member_id].append(duty)
    total = sum(turn_of(duty).seat.load for held in turns.values() for duty in held)
    all_shares = sum(member.willingness for member in everybody.values())
    holders = {duty.member_id: duty.member for held in turns.values() for duty in held}
    found = []
    for member in sorted((holders | everybody).values(), key=lambda member: member.call_sign):
        held = turns[member.pk]
        part = member.willingness / all_shares if member.pk in everybody else 0.0
        found.append(
            Share(
                member,
                net_control=sum(duty.role == NET_CONTROL for duty in held),
                backup=sum(duty.role == BACKUP for duty in held),
                load=sum(turn_of(duty).seat.load for duty in held),
                fair_load=total * part,
            )
        )
    return found


def present(*, now: dt.datetime, ahead: dt.timedelta) -> list[Share]:
    """Shares over the recent past and the time ahead."""
    return shares_in(Span(now - HISTORY, now + ahead))
