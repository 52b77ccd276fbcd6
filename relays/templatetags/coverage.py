"""Figures of areas, for the coverage map."""

from __future__ import annotations

from django import template

from clubops.templatetags.measures import NOT_KNOWN, TIE

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
def plain_number(value: float) -> str:
    """For a form or a script: with a point whatever the language of the page."""
    return f"{value:.10g}"
