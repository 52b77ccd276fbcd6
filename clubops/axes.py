"""Axes of small charts: round numbers and where their marks stand, for whoever draws one as SVG."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Tick:
    """One labelled mark on an axis, in drawing units."""

    at: float
    label: str


def round_steps(low: float, high: float, about: int) -> list[float]:
    """Round numbers inside [low, high], about that many. `high` must be above `low`."""
    raw = (high - low) / about
    scale = 10 ** math.floor(math.log10(raw))
    step = next(factor * scale for factor in (1, 2, 5, 10) if factor * scale >= raw)
    first = math.ceil(low / step)
    return [round(index * step, 6) for index in range(first, math.floor(high / step) + 1)]
