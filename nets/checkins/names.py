"""Whom the call sign field can complete: the roster, and whoever called in before."""

from __future__ import annotations

from dataclasses import dataclass

from clubops.members import callsigns
from clubops.members.models import Member
from nets.models import CheckIn

MOST_VISITORS = 3000


@dataclass(frozen=True)
class Known:
    """A station that may call in. Never more of a member than the call sign and the name."""

    call_sign: str
    name: str
    place: str
    is_member: bool


def known() -> list[Known]:
    """The active roster, then visitors of earlier sessions as they last gave themselves; each once."""
    found = {
        call_sign: Known(call_sign, name, "", True)
        for call_sign, name in Member.objects.filter(is_active=True).values_list("call_sign", "name")
    }
    rows = CheckIn.objects.filter(is_struck=False).exclude(call_sign__in=list(found))
    latest_first = rows.order_by("-heard_at").values_list("call_sign", "name", "place")
    for call_sign, name, place in latest_first[:MOST_VISITORS]:
        if call_sign not in found and callsigns.is_well_formed(call_sign):
            found[call_sign] = Known(call_sign, name, place, False)
    return sorted(found.values(), key=lambda each: (not each.is_member, each.call_sign))
