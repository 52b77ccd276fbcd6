"""The colours of both themes against WCAG 2.2 (W3C Recommendation, 5 October 2023)."""

import re
from itertools import product
from pathlib import Path

import pytest

TOKENS = Path(__file__).parents[2] / "clubops/static/clubops/tokens.css"
# 1.4.3 Contrast (Minimum), level AA, text; 1.4.11 Non-text Contrast, level AA.
LEAST_FOR_TEXT = 4.5
LEAST_FOR_EDGES = 3.0
TEXT = ["ink", "quiet-ink", "pen", "pen-pressed", "good", "fair", "bad", "old"]
EDGES = ["firm-rule", "focus"]
PAPERS = ["paper", "leaf"]


def tables():
    """The three colour tables of the file: light, dark by the device, dark by choice."""
    blocks = re.findall(r"(:root[^{]*)\{([^{}]*)\}", TOKENS.read_text())
    found = [(head.strip(), dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6})", body))) for head, body in blocks]
    return {head: table for head, table in found if table}


LIGHT = tables()[":root"]
DARK = tables()[':root:not([data-theme="light"])']


def luminance(colour):
    """Relative luminance as WCAG 2.2 defines it."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_ratio_spans_1_to_21_as_the_recommendation_says():
    assert contrast("#ffffff", "#000000") == pytest.approx(21)
    assert contrast("#123456", "#123456") == pytest.approx(1)


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(("ink", "paper"), list(product(TEXT, PAPERS)))
def test_text_can_be_read(theme, ink, paper):
    assert contrast(theme[ink], theme[paper]) >= LEAST_FOR_TEXT


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(("edge", "paper"), list(product(EDGES, PAPERS)))
def test_edges_of_controls_can_be_seen(theme, edge, paper):
    assert contrast(theme[edge], theme[paper]) >= LEAST_FOR_EDGES


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("button", ["pen", "pen-pressed"])
def test_the_main_button_can_be_read(theme, button):
    assert contrast(theme["on-pen"], theme[button]) >= LEAST_FOR_TEXT


def test_dark_by_choice_is_dark_by_device():
    assert tables()[':root[data-theme="dark"]'] == DARK


def test_dark_gives_every_colour_that_light_gives():
    assert DARK.keys() == LIGHT.keys()


def test_no_other_stylesheet_names_a_colour():
    for sheet in TOKENS.parent.glob("*.css"):
        if sheet.name not in {"tokens.css", "print.css"}:
            assert not re.search(r"#[0-9a-fA-F]{3,8}\b(?=[^{]*;)", sheet.read_text()), sheet.name
