"""Drafts: asked for, worked out, thrown away. Publishing is in `nets.rota.publishing`."""

from __future__ import annotations

import datetime as dt

from django.db import transaction

from clubops.clock import Span
from clubops.members.models import Member
from nets import schedule
from nets.models import DraftTurn, Net, RotaDraft
from nets.rota import facts
from nets.rota.problem import Seat
from nets.rota.reasons import obstacles, sentence
from nets.rota.remedies import with_remedies
from nets.rota.seating import Usher
from nets.rota.solver import Solution, SolverFailed, solve
from nets.rota.world import Terms, World, gather, takers

HORIZONS = {12: "12 weeks", 13: "a quarter", 26: "half a year", 52: "a year"}
#: Seats times people above which a worker does it: about a second of search on one slow core.
AT_ONCE = 4000
TIME_LIMIT_S = 20.0
#: A worker that has been at a draft for so long has died.
LEASE = dt.timedelta(minutes=5)


def nets_of(draft: RotaDraft) -> list[Net] | None:
    return [draft.net] if draft.net else None


def terms_of(draft: RotaDraft) -> Terms:
    return Terms(draft.minimum_gap_days, draft.most_turns, draft.only_empty_chairs)


def horizon_of(draft: RotaDraft) -> dt.datetime:
    """Sessions from here on are not part of the draft; counted from when it was asked for."""
    return draft.made_at + dt.timedelta(weeks=draft.weeks)


def world_of(draft: RotaDraft, *, now: dt.datetime) -> World:
    """What the draft is about, as it is at `now`."""
    return gather(nets_of(draft), Span(now, max(now, horizon_of(draft))), terms_of(draft), now=now)


def ask(draft: RotaDraft, *, by: Member | None, now: dt.datetime, claimed: bool = False) -> RotaDraft:
    """Save an unsaved draft with what is asked of it; nothing is worked out yet.

    `claimed`: the caller will solve it, so that no worker takes it up.
    """
    draft.made_by, draft.made_at = by, now
    if claimed:
        draft.state, draft.claimed_at = RotaDraft.State.SOLVING, now
    draft.full_clean(exclude=["stages", "facts"])
    draft.save()
    return draft


def is_long(draft: RotaDraft) -> bool:
    """Whether it will take more than a moment, so that a worker should do it: as if every net met weekly."""
    nets = 1 if draft.net else Net.objects.filter(is_active=True).count()
    return 2 * draft.weeks * nets * takers().count() > AT_ONCE


def work_out(draft: RotaDraft, *, now: dt.datetime) -> bool:
    """Solve a waiting draft and keep the answer. False when another worker has it, or it is not waiting.

    Claimed by one conditional update. A worker killed half-way loses nothing: the draft waits again when its
    lease is over, and the answer is stored by one transaction at the end.
    """
    waiting = RotaDraft.objects.filter(pk=draft.pk, state=RotaDraft.State.WAITING)
    lapsed = RotaDraft.objects.filter(pk=draft.pk, state=RotaDraft.State.SOLVING, claimed_at__lt=now - LEASE)
    claim = {"state": RotaDraft.State.SOLVING, "claimed_at": now, "progress": "paths"}
    if not (waiting.update(**claim) or lapsed.update(**claim)):
        return False
    solve_claimed(draft, now=now)
    return True


def solve_claimed(draft: RotaDraft, *, now: dt.datetime) -> None:
    """Solve a draft that is the caller's to solve; it ends ready or failed."""
    draft.refresh_from_db()
    for net in nets_of(draft) or Net.objects.filter(is_active=True):
        schedule.plan_sessions(net, now=now, weeks=max(draft.weeks, schedule.PLANNED_WEEKS))
    world = world_of(draft, now=now)

    def tell(aim: str) -> None:
        RotaDraft.objects.filter(pk=draft.pk).update(progress=aim)

    try:
        solution = solve(world.problem, time_limit_s=TIME_LIMIT_S, on_stage=tell)
    except SolverFailed as fault:
        _settle(draft, state=RotaDraft.State.FAILED, trouble=str(fault)[:300])
    else:
        _store(draft, world, solution, now=now)
    draft.refresh_from_db()


def work_out_waiting(*, now: dt.datetime) -> int:
    """Every draft that waits, oldest first, and those whose worker died; how many were done."""
    unfinished = RotaDraft.objects.filter(state__in=[RotaDraft.State.WAITING, RotaDraft.State.SOLVING])
    return len([draft for draft in unfinished.order_by("made_at") if work_out(draft, now=now)])


def _settle(draft: RotaDraft, **fields: object) -> bool:
    """Give a draft that is being solved its outcome; false when it was thrown away meanwhile."""
    solving = RotaDraft.objects.filter(pk=draft.pk, state=RotaDraft.State.SOLVING)
    return bool(solving.update(progress="", **fields))


@transaction.atomic
def _store(draft: RotaDraft, world: World, solution: Solution, *, now: dt.datetime) -> None:
    stages = [
        {"aim": each.aim, "objective": each.objective, "bound": each.bound, "seconds": round(each.seconds, 3)}
        for each in solution.stages
    ]
    if not _settle(draft, state=RotaDraft.State.READY, stages=stages, facts=facts.facts_of(world)):
        return
    draft.turns.all().delete()
    kept = set(world.problem.kept)
    rows = []
    for turn in solution.turns:
        seating = world.seatings.get((turn.person, turn.seat.session))
        verdict = seating.standing.verdict if seating and seating.standing else None
        rows.append(
            DraftTurn(
                draft=draft,
                session=world.sessions[turn.seat.session],
                role=turn.seat.role,
                member=world.members[turn.person],
                station=seating.station if seating else None,
                is_kept=turn in kept,
                standing=verdict.verdict_class.key if verdict else "",
                margin_db=verdict.margin_db if verdict else None,
            )
        )
    for seat, why in reasons_of(world, solution, now=now).items():
        rows.append(DraftTurn(draft=draft, session=world.sessions[seat.session], role=seat.role, reason=why))
    DraftTurn.objects.bulk_create(rows)


def reasons_of(world: World, solution: Solution, *, now: dt.datetime) -> dict[Seat, str]:
    """Why each empty chair is empty."""
    usher = Usher(now)
    found = {}
    for seat in solution.empty:
        seatings = [each for (_name, session), each in world.seatings.items() if session == seat.session]
        bars = with_remedies(seatings, usher)
        found[seat] = sentence(seat, obstacles(world.problem, solution.turns, bars, seat))
    return found


def discard(draft: RotaDraft, *, by: Member | None, now: dt.datetime) -> bool:
    """Throw a draft away. False when it was published or thrown away already."""
    still_open = RotaDraft.objects.filter(pk=draft.pk).exclude(
        state__in=[RotaDraft.State.PUBLISHED, RotaDraft.State.DISCARDED]
    )
    return bool(still_open.update(state=RotaDraft.State.DISCARDED, settled_at=now, settled_by=by))
