"""The published rota as people read it: session by session, with the reason beside an empty chair."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from clubops.clock import Span
from nets.models import DraftTurn, Duty, Net, RotaDraft, Session
from nets.rota.remedies import HIGHER
from nets.rota.world import coming_sessions

Chair = tuple[int, str]


@dataclass(frozen=True)
class Place:
    """One chair of a session: who holds it, or why nobody does as far as that is known."""

    role: str
    words: str
    duty: Duty | None
    reason: str

    @property
    def is_confirmed(self) -> bool:
        return self.duty is not None and self.duty.state == Duty.State.CONFIRMED


@dataclass(frozen=True)
class Line:
    """One session of the rota."""

    session: Session
    places: tuple[Place, ...]

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why chairs are empty, each sentence once."""
        return tuple(dict.fromkeys(place.reason for place in self.places if place.reason))


@dataclass(frozen=True)
class Board:
    """The rota of one net."""

    net: Net
    lines: tuple[Line, ...]

    @property
    def has_reasons(self) -> bool:
        return any(line.reasons for line in self.lines)

    @property
    def names_a_mast(self) -> bool:
        """Whether a reason speaks of a raised antenna, beside which a caution belongs."""
        return any(HIGHER in reason for line in self.lines for reason in line.reasons)


def board(net: Net, span: Span) -> Board:
    """The coming sessions of a net with both their chairs, earliest first."""
    sessions = coming_sessions([net], span)
    held: dict[Chair, Duty] = {}
    declined: dict[Chair, Duty] = {}
    for duty in Duty.objects.filter(session__in=sessions).select_related("member"):
        by_chair = declined if duty.state == Duty.State.DECLINED else held
        by_chair[duty.session_id, duty.role] = duty
    reasons = reasons_known(sessions)
    lines = (
        Line(session, tuple(_place(session, role, held, declined, reasons) for role in Duty.Role))
        for session in sessions
    )
    return Board(net, tuple(lines))


def _place(
    session: Session,
    role: Duty.Role,
    held: dict[Chair, Duty],
    declined: dict[Chair, Duty],
    reasons: dict[Chair, str],
) -> Place:
    chair = (session.pk, role.value)
    if duty := held.get(chair):
        return Place(role.value, role.label, duty, "")
    if no := declined.get(chair):
        return Place(
            role.value, role.label, None, f"{no.member.call_sign} declined; nobody else has been found yet."
        )
    return Place(role.value, role.label, None, reasons.get(chair, ""))


def reasons_known(sessions: Iterable[Session]) -> dict[Chair, str]:
    """Why each chair was left empty by the rota published last."""
    rows = DraftTurn.objects.filter(session__in=list(sessions), draft__state=RotaDraft.State.PUBLISHED)
    # The latest word on a chair counts, also where that is that somebody was found.
    latest = {(row.session_id, row.role): row for row in rows.order_by("draft__settled_at", "draft_id")}
    return {chair: row.reason for chair, row in latest.items() if row.reason}


def horizon(now: dt.datetime, weeks: int) -> Span:
    return Span(now, now + dt.timedelta(weeks=weeks))
