"""The map's colours: told apart by people who see fewer of them, and the same in an export.

Colour vision deficiency: matrices of Machado, Oliveira and Fernandes, "A physiologically-based model for
simulation of color vision deficiency", IEEE TVCG 15 (6), 2009, severity 1.0, for linear RGB (from memory).
Difference: CIE 1976 L*a*b*, CIE 15:2004; 2.3 is just noticeable, and a map's neighbours should be far from that.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from relays.reach.exports import COLOURS
from tests.pages.test_palette import DARK, LIGHT

SIGHT = {
    "all colours": np.eye(3),
    "no red": [
        [0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]
    ],
    "no green": [
        [0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]
    ],
    "no blue": [
        [1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]
    ],
}  # fmt: skip
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = TO_XYZ @ np.ones(3)
FAR_APART = 15.0


def linear(colour: str) -> np.ndarray:
    """Linear RGB of #rrggbb, IEC 61966-2-1."""
    value = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(light: np.ndarray) -> np.ndarray:
    ratio = TO_XYZ @ np.clip(light, 0, 1) / WHITE
    x, y, z = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_verdicts_are_told_apart_by_everybody(theme: dict[str, str], sight: str) -> None:
    seen = {
        name: lab(np.array(SIGHT[sight]) @ linear(theme[name]))
        for name in ("reach-solid", "reach-usable", "reach-marginal", "leaf")
    }
    for one, other in itertools.combinations(seen, 2):
        assert np.linalg.norm(seen[one] - seen[other]) > FAR_APART, (one, other)


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_gained_is_told_from_lost_by_everybody(theme: dict[str, str], sight: str) -> None:
    gained, lost = (
        lab(np.array(SIGHT[sight]) @ linear(theme[name])) for name in ("reach-solid", "reach-lost")
    )
    assert np.linalg.norm(gained - lost) > FAR_APART


def test_a_verdict_without_colour_still_differs_in_lightness() -> None:
    lightness = [
        lab(linear(LIGHT[name]))[0] for name in ("reach-solid", "reach-usable", "reach-marginal", "paper")
    ]
    assert all(lighter - darker > 10 for darker, lighter in itertools.pairwise(lightness))


def test_an_exported_picture_has_the_maps_colours() -> None:
    names = ("reach-solid", "reach-usable", "reach-marginal")
    exported = [f"#{red:02x}{green:02x}{blue:02x}" for red, green, blue, _ in COLOURS[:3]]
    assert exported == [LIGHT[name] for name in names]
