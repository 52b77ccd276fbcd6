"""From draft to duties: what would change, and changing it, all or nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from django.db import transaction

from clubops.members.models import Member
from nets import duties
from nets.models import DraftTurn, Duty, Net, Refusal, RotaDraft, Session
from nets.rota import draft as drafts
from nets.rota import facts
from nets.rota.board import reasons_known
from nets.rota.remedies import HIGHER

Kind = Literal["kept", "same", "changed", "new", "emptied", "empty"]


class PublishRefused(ValueError):
    """A draft that cannot be published. `sentences` say what has changed since it was made, or what is wrong."""

    def __init__(self, lead: str, sentences: Iterable[str] = ()) -> None:
        self.lead = lead
        self.sentences = tuple(sentences)
        super().__init__(" ".join([lead, *self.sentences]))


# Comparing -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Compared:
    """One chair of a draft beside the published rota."""

    turn: DraftTurn
    duty: Duty | None
    kind: Kind

    @property
    def was(self) -> Member | None:
        """Who holds the chair now, if that is somebody else than in the draft."""
        if self.duty is None or self.duty.member_id == self.turn.member_id:
            return None
        return self.duty.member

    @property
    def words(self) -> str:
        """What becomes of the chair."""
        was = f" {self.was.call_sign}" if self.was else ""
        return {
            "kept": "stays, confirmed or locked",
            "same": "stays",
            "changed": f"instead of{was}",
            "new": "newly filled",
            "emptied": f"instead of{was}",
            "empty": "as before",
        }[self.kind]


@dataclass(frozen=True)
class Evening:
    """Both chairs of one session in a draft."""

    session: Session
    chairs: tuple[Compared, ...]

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why chairs are empty, each sentence once."""
        return tuple(dict.fromkeys(row.turn.reason for row in self.chairs if row.turn.reason))


@dataclass(frozen=True)
class Comparison:
    """Every chair of a draft beside what is published, in order of time."""

    rows: tuple[Compared, ...]

    @property
    def evenings(self) -> list[Evening]:
        """The same chairs, session by session."""
        found: dict[int, list[Compared]] = {}
        for row in self.rows:
            found.setdefault(row.turn.session_id, []).append(row)
        return [Evening(rows[0].turn.session, tuple(rows)) for rows in found.values()]

    def count(self, kind: Kind) -> int:
        return sum(row.kind == kind for row in self.rows)

    @property
    def counts(self) -> dict[str, int]:
        """How many chairs of each kind there are, by the names of `Kind`."""
        kinds: tuple[Kind, ...] = ("kept", "same", "changed", "new", "emptied", "empty")
        return {kind: self.count(kind) for kind in kinds}

    @property
    def left_alone(self) -> int:
        """Turns that stay with whoever has them."""
        return self.count("kept") + self.count("same")

    @property
    def still_empty(self) -> int:
        return self.count("empty") + self.count("emptied")

    @property
    def names_a_mast(self) -> bool:
        """Whether a reason speaks of a raised antenna, beside which a caution belongs."""
        return any(HIGHER in row.turn.reason for row in self.rows)

    @property
    def changes_nothing(self) -> bool:
        return not any(row.kind in ("changed", "new", "emptied") for row in self.rows)


def compare(draft: RotaDraft) -> Comparison:
    """The draft beside the duties as they are now."""
    turns = list(draft.turns.select_related("session__net", "session__relay", "member", "station"))
    held = {
        (duty.session_id, duty.role): duty
        for duty in Duty.objects.filter(session__in={turn.session_id for turn in turns})
        .exclude(state=Duty.State.DECLINED)
        .select_related("member")
    }
    return Comparison(
        tuple(
            Compared(turn, duty, _kind(turn, duty))
            for turn in turns
            for duty in [held.get((turn.session_id, turn.role))]
        )
    )


def _kind(turn: DraftTurn, duty: Duty | None) -> Kind:
    if turn.member_id is None:
        return "emptied" if duty else "empty"
    if duty is None:
        return "new"
    if duty.member_id != turn.member_id:
        return "changed"
    return "kept" if turn.is_kept else "same"


# Publishing ----------------------------------------------------------------------------------------


def publish(draft: RotaDraft, *, by: Member | None, now: dt.datetime) -> bool:
    """Make the draft the rota, in one transaction. False, and nothing touched, when it was published already.

    Raises PublishRefused when the world is no longer the one the draft was made for, or a turn can no longer be
    given; then nothing has changed.
    """
    # Stale paths are worked out before the transaction, so that it holds its locks for less long.
    drafts.world_of(draft, now=now)
    try:
        with transaction.atomic():
            return _publish(draft, by, now)
    except duties.DutyRefused as refusal:
        raise PublishRefused("A turn of this draft can no longer be given.", [refusal.sentence]) from refusal


def _publish(draft: RotaDraft, by: Member | None, now: dt.datetime) -> bool:
    draft = RotaDraft.objects.select_for_update().get(pk=draft.pk)
    if draft.state == RotaDraft.State.PUBLISHED:
        return False
    if draft.state != RotaDraft.State.READY:
        raise PublishRefused(
            f"This draft is {draft.get_state_display()}; only one that is ready can be published."
        )
    # First, so that nobody can give a chair while this looks at it; with all its people, as each turn takes one.
    duties.lock(draft.turns.values_list("session", flat=True), draft.turns.values_list("member", flat=True))
    changed = facts.changes(draft.facts, drafts.world_of(draft, now=now))
    if changed:
        raise PublishRefused("Since this draft was made:", changed)
    moved = [row for row in compare(draft).rows if row.kind in ("changed", "new", "emptied")]
    _clear(moved)
    for row in moved:
        if row.turn.member is not None:
            chair = duties.Chair(row.turn.session, row.turn.role, row.turn.member, row.turn.station)
            duties.assign(chair, now=now)
    draft.state, draft.settled_at, draft.settled_by = RotaDraft.State.PUBLISHED, now, by
    draft.save(update_fields=["state", "settled_at", "settled_by"])
    return True


def _clear(moved: list[Compared]) -> None:
    """Take everybody out of the chairs that change before anybody is put in: two may swap chairs.

    A declined duty goes with its row; that it was declined is remembered, so that nobody is asked twice.
    """
    for row in moved:
        stale = Duty.objects.filter(session_id=row.turn.session_id, role=row.turn.role)
        for duty in stale:
            if duty.state == Duty.State.DECLINED:
                Refusal.objects.get_or_create(session_id=duty.session_id, member_id=duty.member_id)
            duty.delete()


# At one stroke -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Filled:
    """What `fill` did: how many chairs it filled, and a sentence for each that stays empty."""

    filled: int
    empty: tuple[str, ...]


def fill(net: Net | None = None, *, now: dt.datetime, weeks: int = 12, by: Member | None = None) -> Filled:
    """Fill the empty chairs of one net or of all, leaving everybody who has a turn where they are.

    Repeating it changes nothing. A draft that fills nothing and has no new reason to tell is thrown away.
    """
    wanted = RotaDraft(net=net, weeks=weeks, only_empty_chairs=True)
    draft = drafts.ask(wanted, by=by, now=now, claimed=True)
    drafts.solve_claimed(draft, now=now)
    if draft.state == RotaDraft.State.FAILED:
        raise PublishRefused("The rota could not be worked out.", [draft.trouble])
    rows = compare(draft)
    unfilled = [row.turn for row in rows.rows if row.turn.member_id is None]
    empty = tuple(turn.reason for turn in unfilled)
    known = reasons_known(turn.session for turn in unfilled)
    if rows.changes_nothing and all(known.get((t.session_id, t.role)) == t.reason for t in unfilled):
        draft.delete()
        return Filled(0, empty)
    publish(draft, by=by, now=now)
    return Filled(rows.count("new"), empty)
