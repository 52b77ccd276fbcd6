"""A path profile as the numbers of a drawing; the template puts them into SVG.

The drawing is ours rather than a plotting library's so that it takes the page's ink in both themes and on
paper, and so that every stroke has a class instead of a style that the page's policy would refuse.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from clubops.axes import Tick, round_steps
from relays.propagation.profile import Sight
from relays.propagation.terrain import FloatArray

WIDTH, HEIGHT = 760.0, 300.0
LEFT, RIGHT, TOP, BOTTOM = 58.0, 14.0, 26.0, 34.0
MOST_POINTS = 380


@dataclass(frozen=True)
class ProfileDrawing:
    """Points are "x,y x,y ..." in a box of WIDTH by HEIGHT, y down."""

    ground: str
    clutter: str
    fresnel: str
    sight: tuple[float, float, float, float]
    station_mast: tuple[float, float, float]
    relay_mast: tuple[float, float, float]
    obstacle: tuple[float, float, float]
    obstacle_blocks: bool
    obstacle_on_the_right: bool
    distance_ticks: tuple[Tick, ...]
    height_ticks: tuple[Tick, ...]
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT
    base: float = HEIGHT - BOTTOM


def profile_drawing(sight: Sight) -> ProfileDrawing:
    """Lay out a Sight. The vertical scale is stretched to fill the box; both axes carry their units."""
    keep = _thinned(sight)
    distance_km = sight.distance_km[keep]
    low_m = float(min(sight.ground_m.min(), sight.zone_low_m.min()))
    high_m = float(max(sight.surface_m.max(), sight.zone_high_m.max()))
    pad_m = max(0.06 * (high_m - low_m), 5.0)
    low_m, high_m = low_m - pad_m, high_m + pad_m

    def x(km: Any) -> Any:
        return LEFT + (WIDTH - LEFT - RIGHT) * km / float(sight.distance_km[-1])

    def y(m: Any) -> Any:
        return TOP + (HEIGHT - TOP - BOTTOM) * (high_m - m) / (high_m - low_m)

    base = HEIGHT - BOTTOM
    line = [float(y(sight.line_m[0])), float(y(sight.line_m[-1]))]
    worst = sight.obstacle
    return ProfileDrawing(
        ground=_closed(x(distance_km), y(sight.ground_m[keep]), base),
        clutter=_points(x(distance_km), y(sight.surface_m[keep])),
        fresnel=_points(x(distance_km), y(sight.zone_high_m[keep]))
        + " "
        + _points(x(distance_km[::-1]), y(sight.zone_low_m[keep][::-1])),
        sight=(LEFT, line[0], WIDTH - RIGHT, line[1]),
        station_mast=(LEFT, line[0], float(y(sight.ground_m[0]))),
        relay_mast=(WIDTH - RIGHT, line[1], float(y(sight.ground_m[-1]))),
        obstacle=(
            float(x(worst.from_tx_km)),
            float(y(sight.surface_m[worst.index])),
            float(y(sight.line_m[worst.index])),
        ),
        obstacle_blocks=worst.blocks,
        obstacle_on_the_right=worst.from_tx_km > worst.from_rx_km,
        distance_ticks=tuple(
            Tick(float(x(at)), f"{at:g}") for at in round_steps(0, float(sight.distance_km[-1]), 6)
        ),
        height_ticks=tuple(Tick(float(y(at)), f"{at:g}") for at in round_steps(low_m, high_m, 5)),
    )


def _thinned(sight: Sight) -> np.ndarray:
    """Every n-th point, both ends, and always the obstacle: a sharp crest must not be thinned away."""
    count = sight.distance_km.size
    step = max(1, math.ceil(count / MOST_POINTS))
    return np.unique(np.concatenate([np.arange(0, count, step), [sight.obstacle.index, count - 1]]))


def _points(x: FloatArray, y: FloatArray) -> str:
    return " ".join(f"{px:.1f},{py:.1f}" for px, py in zip(x, y, strict=True))


def _closed(x: FloatArray, y: FloatArray, base: float) -> str:
    return f"{x[0]:.1f},{base:.1f} {_points(x, y)} {x[-1]:.1f},{base:.1f}"
