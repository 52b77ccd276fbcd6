"""Figures of areas and people, for the coverage map."""

from __future__ import annotations

from django import template

from clubops.templatetags.measures import NOT_KNOWN, TIE
from relays.population import words
from relays.reach.people import Reached

register = template.Library()


@register.filter
def km2(value: float | None) -> str:
    """An area: 0 km², 0.4 km², 12 km², 1 240 km²."""
    if value is None:
        return NOT_KNOWN
    figure = f"{value:.1f}" if 0 < value < 10 else f"{value:,.0f}".replace(",", TIE)
    return f"{figure}{TIE}km²"


@register.filter
def share(value: float | None) -> str:
    """A part of a whole, 0 to 1, as a percentage; unlike a chance it may be none or all of it."""
    if value is None:
        return NOT_KNOWN
    if 0 < value < 0.01:
        return f"under 1{TIE}%"
    if 0.99 < value < 1:
        return f"over 99{TIE}%"
    return f"{100 * value:.0f}{TIE}%"


@register.filter
def people(value: float | None) -> str:
    """A number of people: nobody, fewer than 10 people, about 12 400 people."""
    return NOT_KNOWN if value is None else words.about(value)


@register.filter
def heads(value: float | None) -> str:
    """The same in a column of numbers: 0, under 10, 12,400."""
    if value is None:
        return NOT_KNOWN
    if value < 0.5:
        return "0"
    return f"under{TIE}10" if value < 10.0 else words.rounded(value)


@register.filter
def reached(value: Reached | None) -> str:
    """Who lives where the signal is usable: about 12,400 people, of the 31,000 on the map."""
    return NOT_KNOWN if value is None else words.of_the_map(value.usable, value.on_the_map)


@register.filter
def plain_number(value: float) -> str:
    """For a form or a script: with a point whatever the language of the page."""
    return f"{value:.10g}"
