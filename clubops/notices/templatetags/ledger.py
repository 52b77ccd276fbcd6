"""Times as a ledger writes them, and what is coming for somebody."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import template
from django.utils import timezone
from django.utils.dateformat import format as date_format
from django.utils.translation import pgettext

from clubops import clock
from clubops.members.models import Member
from clubops.notices import choices, policy

register = template.Library()

FIRST_FEW = 5


@register.filter
def short_time(at: dt.datetime, zone: str) -> str:
    """An instant by the clocks of a place, short enough for a column or a subject: Tue 3 Mar, 19:30."""
    return date_format(clock.to_wall(at, zone), pgettext("short date and time", "D j M, H:i"))


@register.inclusion_tag("notices/coming.html")
def coming_notices(member: Member) -> dict[str, Any]:
    """The first few notices on their way to a member, for a page that is about more than notices."""
    coming = choices.coming_for(member, now=timezone.now(), policy=policy.current())
    return {"coming": coming[:FIRST_FEW], "more": max(0, len(coming) - FIRST_FEW), "zone": member.zone}
