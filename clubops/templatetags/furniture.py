"""Pieces of a page that need a little thought before they are drawn."""

from __future__ import annotations

import math
from typing import Any

from django import template
from django.template.context import Context
from django.urls import NoReverseMatch, reverse

from clubops.templatetags.measures import margin_db

register = template.Library()

LOWEST_DB = -20.0
HIGHEST_DB = 40.0
CELL_DB = 2.5


@register.inclusion_tag("components/nav_item.html", takes_context=True)
def nav_item(context: Context, label: str, url_name: str, css_class: str = "") -> dict[str, Any]:
    """A word of the main navigation; marked when it leads to this page or to one above it."""
    try:
        href = reverse(url_name)
    except NoReverseMatch:
        return {"href": ""}
    path = context["request"].path if "request" in context else ""
    above = href != "/" and path.startswith(href)
    current = "page" if path == href else "true" if above else ""
    return {"label": label, "href": href, "css_class": css_class, "current": current}


@register.inclusion_tag("components/margin.html")
def margin(value_db: float | None, words: str = "", least_db: float | None = None) -> dict[str, Any]:
    """A margin in figures and on a ruler from −20 to +40 dB, the least asked for marked."""
    return {
        "words": words,
        "figure": margin_db(value_db),
        "need": "" if least_db is None else margin_db(least_db),
        "cells": ruler_cells(value_db, least_db),
    }


def ruler_cells(value_db: float | None, least_db: float | None = None) -> list[str]:
    """The class names of each cell of the ruler, 2.5 dB a cell, lowest first.

    Cells between nought and the value are inked, the value rounded to the nearest edge but never to nothing.
    """
    count = round((HIGHEST_DB - LOWEST_DB) / CELL_DB)
    zero = round(-LOWEST_DB / CELL_DB)
    inked = 0
    if value_db is not None and math.isfinite(value_db) and value_db:
        inked = max(1, round(abs(value_db) / CELL_DB)) * (1 if value_db > 0 else -1)
    need = None if least_db is None else math.floor((least_db - LOWEST_DB) / CELL_DB)
    cells = []
    for cell in range(count):
        names = []
        if cell == zero:
            names.append("zero")
        if zero <= cell < zero + inked:
            names.append("over")
        if zero + inked <= cell < zero:
            names.append("under")
        if cell == need:
            names.append("need")
        cells.append(" ".join(names))
    return cells
