"""One conflict, and how several meetings with the same trouble become one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from typing import TypeVar

from clubops import clock
from clubops.templatetags.measures import zone_words
from nets.models import Net, Session

_Found = TypeVar("_Found")


@dataclass(frozen=True)
class Conflict:
    """Two sides that cannot both have their way, from `at` on; `times` is how often in the span looked at.

    `sentence` and `way_out` are for people. `sessions` are those to open, the earliest of each side.
    """

    kind: str
    at: dt.datetime
    zone: str
    sides: tuple[str, str]
    sentence: str
    way_out: str
    times: int = 1
    sessions: tuple[Session, ...] = ()
    nets: tuple[Net, ...] = ()

    def concerns(self, net: Net) -> bool:
        return any(each.pk == net.pk for each in self.nets)


def on_date(at: dt.datetime, zone: str) -> str:
    """Such as "on Tuesday 3 March 2026"."""
    wall = clock.to_wall(at, zone)
    return f"on {wall:%A} {wall.day} {wall:%B %Y}"


def on_date_at(at: dt.datetime, zone: str) -> str:
    """Such as "on Tuesday 3 March 2026 at 19:30 New York time"."""
    return f"{on_date(at, zone)} at {clock.to_wall(at, zone):%H:%M} {zone_words(zone)}"


def gathered(found: Iterable[_Found], alike: Callable[[_Found], Hashable]) -> list[list[_Found]]:
    """What is alike, together and in the order found."""
    groups: dict[Hashable, list[_Found]] = {}
    for each in found:
        groups.setdefault(alike(each), []).append(each)
    return list(groups.values())
