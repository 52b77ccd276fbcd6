"""What a draft rests on, kept with it, so that a changed world is noticed before the draft is published.

Only what the solver was told counts: a path worked out again with the same verdict is no change.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from nets.models import Duty
from nets.rota.problem import Problem, Seat
from nets.rota.reasons import Bar
from nets.rota.rules import in_words
from nets.rota.world import World

Facts = dict[str, Any]


def facts_of(world: World) -> Facts:
    """The facts as plain JSON values. Past turns are left out: they slide by with the days and bind little."""
    problem = world.problem
    offers: dict[str, dict[str, int]] = {}
    for offer in problem.offers:
        offers.setdefault(offer.person, {})[offer.session] = offer.path_cost
    return {
        "seats": {
            _chair(seat): [seat.span.start.isoformat(), seat.span.end.isoformat(), _title(seat)]
            for seat in problem.seats
        },
        "people": {
            person.key: [person.shares, person.is_experienced, person.most_turns, person.minimum_gap_days]
            for person in problem.people
            if person.key in offers
        },
        "offers": offers,
        "turns": _turns(problem),
    }


def _turns(problem: Problem) -> dict[str, list[Any]]:
    """Who holds which chair from the first seat on, and whether it may be moved."""
    if not problem.seats:
        return {}
    first = min(seat.span.start for seat in problem.seats)
    kept = {_chair(turn.seat) for turn in problem.kept}
    coming = [*problem.published, *(turn for turn in problem.held if turn.seat.span.start > first)]
    return {_chair(turn.seat): [turn.person, _chair(turn.seat) in kept, _title(turn.seat)] for turn in coming}


def _chair(seat: Seat) -> str:
    return f"{seat.session}/{seat.role}"


def _title(seat: Seat) -> str:
    return f"{seat.net} on {in_words(seat.date, seat.date)}"


def changes(before: Facts, world: World) -> list[str]:
    """What has changed since `before`, a sentence each; empty when nothing has."""
    after = facts_of(world)
    bars = {(bar.person, bar.session): bar for bar in world.bars}
    titles = {key.split("/")[0]: row[2] for key, row in (before["seats"] | after["seats"]).items()}
    found = [
        *_sessions(before["seats"], after["seats"]),
        *_people(before["people"], after["people"]),
        *_offers(before, after, bars, titles),
        *_chairs(before, after),
    ]
    return list(dict.fromkeys(found))


def _sessions(before: Facts, after: Facts) -> Iterator[str]:
    for chair in sorted(before.keys() | after.keys(), key=lambda chair: (before | after)[chair][:1]):
        old, new = before.get(chair), after.get(chair)
        if old is not None and new is None:
            yield f"{old[2]} has begun, was called off or is no longer planned."
        elif old is None and new is not None:
            yield f"{new[2]} has been added."
        elif old is not None and new is not None and old[:2] != new[:2]:
            yield f"{new[2]} has been moved to another time."


def _people(before: Facts, after: Facts) -> Iterator[str]:
    for key in sorted(before.keys() & after.keys()):
        if before[key] != after[key]:
            yield f"The shares, experience or wishes of {key} have changed."
    for key in sorted(after.keys() - before.keys()):
        yield f"{key} can be asked now and could not before."


def _offers(
    before: Facts, after: Facts, bars: dict[tuple[str, str], Bar], titles: dict[str, str]
) -> Iterator[str]:
    for key in sorted(before["offers"]):
        old, new = before["offers"][key], after["offers"].get(key, {})
        for session in old.keys() - new.keys():
            bar = bars.get((key, session))
            if f"{session}/net_control" in after["seats"]:
                yield f"{key} {bar.words if bar else 'no longer takes the chair'} ({titles[session]})."
        if key in after["offers"]:
            for session in new.keys() - old.keys():
                if f"{session}/net_control" in before["seats"]:
                    yield f"{key} can take {titles[session]} now and could not before."
            if any(old[session] != new[session] for session in old.keys() & new.keys()):
                yield f"The path of {key} was worked out anew and its margin is another."


def _chairs(before: Facts, after: Facts) -> Iterator[str]:
    gone = before["seats"].keys() - after["seats"].keys()
    for chair in sorted((before["turns"].keys() | after["turns"].keys()) - gone):
        old, new = before["turns"].get(chair), after["turns"].get(chair)
        role = Duty.Role(chair.split("/")[1]).label
        if old == new:
            continue
        if old is not None and new is None:
            yield f"{old[0]} is no longer {role} of {old[2]}."
        elif old is None or old[0] != new[0]:
            yield f"{new[0]} has been made {role} of {new[2]}."
        elif new[1]:
            yield f"{new[0]} has confirmed or been locked as {role} of {new[2]}."
        else:
            yield f"{new[0]} may be moved again as {role} of {new[2]}."
