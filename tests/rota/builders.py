"""Small rotas for the tests: weekly sessions, people QZ3AAA, QZ3BBB, ... and random problems."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterable

from clubops.clock import Span
from nets.rota.problem import BACKUP, NET_CONTROL, Offer, Person, Problem, Role, Seat, Turn

FIRST = dt.date(2026, 3, 3)
ROLES: tuple[Role, ...] = (NET_CONTROL, BACKUP)


def call_sign(index: int) -> str:
    first, second = divmod(index, 26)
    return "QZ3" + chr(65 + index) * 3 if not first else "QZ4" + chr(64 + first) + chr(65 + second) * 2


def seat(
    week: int, role: Role = NET_CONTROL, *, net: str = "Tuesday Net", day: int = 0, hour: int = 19
) -> Seat:
    """A chair of a weekly net; `day` moves it within the week, `hour` within the day (UTC)."""
    date = FIRST + dt.timedelta(days=7 * week + day)
    start = dt.datetime.combine(date, dt.time(hour), dt.UTC)
    return Seat(f"{net}/{date}", role, Span(start, start + dt.timedelta(hours=1)), date, net)


def both(week: int, **where: object) -> tuple[Seat, Seat]:
    return seat(week, NET_CONTROL, **where), seat(week, BACKUP, **where)


def offers(
    people: Iterable[Person], seats: Iterable[Seat], *, but: Iterable[tuple[str, str]] = ()
) -> tuple[Offer, ...]:
    """Everybody for everything, but for the (person, session) pairs named."""
    sessions = dict.fromkeys(each.session for each in seats)
    pairs = ((person.key, session) for person in people for session in sessions)
    return tuple(Offer(*pair) for pair in pairs if pair not in set(but))


def holder(turns: Iterable[Turn], wanted: Seat) -> str | None:
    """Who sits there, if anybody."""
    return next((turn.person for turn in turns if turn.seat == wanted), None)


def random_problem(
    seed: int,
    *,
    people: int,
    sessions: int,
    offered: float = 0.7,
    nets: int = 1,
    gap_days: tuple[int, ...] = (0, 1, 8, 15),
    most_turns: tuple[int | None, ...] = (None, None, 1, 2),
    settled: bool = True,
    first_week: int = 3,
) -> Problem:
    """A problem with everything in it: gaps, limits, newcomers, history, kept, held and published turns.

    From the third week on it crosses from March into April, so limits a quarter start again.
    """
    draw = random.Random(seed)
    persons = tuple(
        Person(
            call_sign(index),
            shares=draw.choice((1, 1, 1, 2, 3)),
            is_experienced=draw.random() < 0.6,
            past_load=draw.randrange(5),
            most_turns=draw.choice(most_turns),
            minimum_gap_days=draw.choice(gap_days),
        )
        for index in range(people)
    )
    seats = tuple(
        each
        for number in range(sessions)
        for each in both(
            first_week + number // nets,
            net=f"Net {number % nets}",
            day=draw.randrange(2) if nets > 1 else 0,
            hour=19,
        )
    )
    names = list(dict.fromkeys(each.session for each in seats))
    offered_pairs = tuple(
        Offer(person.key, name, draw.randrange(4))
        for person in persons
        for name in names
        if draw.random() < offered
    )
    kept, held, published = (), (), ()
    if settled:
        chosen = draw.sample(seats, k=min(len(seats), draw.choice((0, 0, 1, 2))))
        takers = draw.sample(persons, k=len(chosen)) if len(chosen) <= people else []
        kept = tuple(Turn(each, who.key) for each, who in zip(chosen, takers, strict=False))
        held = tuple(
            Turn(
                seat(
                    first_week + draw.randrange(-1, sessions),
                    draw.choice(ROLES),
                    net="Other Net",
                    hour=draw.choice((19, 21)),
                ),
                who.key,
            )
            for who in draw.sample(persons, k=draw.choice((0, 1, 1)))
        )
        published = tuple(Turn(each, draw.choice(persons).key) for each in seats if draw.random() < 0.5)
    return Problem(persons, seats, offered_pairs, kept, held, published)
