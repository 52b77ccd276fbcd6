"""Charts as the numbers of a drawing; templates put them into SVG with classes, so that both themes and paper hold.

Drawn here rather than by a plotting library for the same reason as path profiles (relays/drawings.py): the page's
policy refuses styles inside an SVG, and the page's own ink follows the theme.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from clubops.axes import Tick
from nets.statistics import Attendance, Turns

WIDTH, HEIGHT = 760.0, 260.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 10.0, 18.0, 34.0
TURN_ROW, TURN_LEFT = 34.0, 110.0
MOST_DATES = 8


@dataclass(frozen=True)
class Column:
    """One session: members below, visitors above them; `x` is the left edge, heights go up from the base."""

    x: float
    width: float
    members_y: float
    members_height: float
    visitors_y: float
    visitors_height: float
    is_called_off: bool
    label: str


@dataclass(frozen=True)
class AttendanceChart:
    """Columns over a common base; the scale begins at nought."""

    columns: tuple[Column, ...]
    ticks: tuple[Tick, ...]
    dates: tuple[Tick, ...]
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT
    base: float = HEIGHT - BOTTOM


@dataclass(frozen=True)
class Bar:
    """One volunteer: a bar as long as their turns, and a mark at their fair share."""

    label: str
    y: float
    length: float
    share_x: float
    count: int


@dataclass(frozen=True)
class TurnsChart:
    """A bar for each volunteer, most turns first, and the scale below."""

    bars: tuple[Bar, ...]
    ticks: tuple[Tick, ...]
    height: float
    base: float
    width: float = WIDTH
    left: float = TURN_LEFT


def attendance_chart(attendance: Sequence[Attendance]) -> AttendanceChart:
    """Stations by session, oldest on the left. An empty list gives an empty frame."""
    steps = _whole_steps(max((each.stations for each in attendance), default=0))
    top, base = steps[-1], HEIGHT - BOTTOM
    pitch = (WIDTH - LEFT - RIGHT) / max(len(attendance), 1)

    def tall(count: int) -> float:
        return (base - TOP) * count / top

    columns = []
    for index, each in enumerate(attendance):
        members, visitors = tall(each.members), tall(each.visitors)
        columns.append(
            Column(
                x=LEFT + pitch * (index + 0.14),
                width=pitch * 0.72,
                members_y=base - members,
                members_height=members,
                visitors_y=base - members - visitors,
                visitors_height=visitors,
                is_called_off=each.is_called_off,
                label=f"{each.session.occurrence_date.day} {each.session.occurrence_date:%b}",
            )
        )
    every = math.ceil(len(columns) / MOST_DATES) or 1
    return AttendanceChart(
        columns=tuple(columns),
        ticks=tuple(Tick(base - tall(step), str(step)) for step in steps),
        dates=tuple(Tick(each.x + each.width / 2, each.label) for each in columns[::every]),
    )


def turns_chart(turns: Sequence[Turns]) -> TurnsChart:
    """Turns as net control beside the fair share of each volunteer."""
    longest = max((max(each.net_control, math.ceil(each.fair_share)) for each in turns), default=0)
    steps = _whole_steps(longest)
    scale = (WIDTH - TURN_LEFT - 30) / steps[-1]
    bars = tuple(
        Bar(
            label=each.member.call_sign,
            y=TOP + TURN_ROW * index,
            length=each.net_control * scale,
            share_x=TURN_LEFT + each.fair_share * scale,
            count=each.net_control,
        )
        for index, each in enumerate(turns)
    )
    base = TOP + TURN_ROW * len(turns)
    ticks = tuple(Tick(TURN_LEFT + step * scale, str(step)) for step in steps)
    return TurnsChart(bars=bars, ticks=ticks, height=base + BOTTOM, base=base)


def _whole_steps(highest: int, about: int = 5) -> list[int]:
    """Round whole numbers from nought to the first one at or above `highest`."""
    raw = max(highest, 1) / about
    scale = 10 ** max(0, math.floor(math.log10(raw))) if raw >= 1 else 1
    step = next(factor * scale for factor in (1, 2, 5, 10) if factor * scale >= raw)
    return list(range(0, step * math.ceil(max(highest, 1) / step) + 1, step))
