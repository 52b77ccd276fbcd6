"""Times as a ledger writes them."""

from __future__ import annotations

import datetime as dt

from django import template

from clubops import clock

register = template.Library()


@register.filter
def short_time(at: dt.datetime, zone: str) -> str:
    """An instant by the clocks of a place, short enough for a column or a subject: Tue 3 Mar, 19:30."""
    wall = clock.to_wall(at, zone)
    return f"{wall:%a} {wall.day} {wall:%b}, {wall:%H:%M}"
