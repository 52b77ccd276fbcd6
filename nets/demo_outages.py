"""The demo's outage: tower work on the ridge, one evening on which the Tuesday net would meet there. Invented."""

from __future__ import annotations

import datetime as dt

from clubops.members.models import Member
from nets.models import Session
from relays import outages
from relays.models import Outage, Relay
from relays.outages import Terms

RIDGE = "lantern-ridge-2m"
# Far enough ahead that somebody can still do something about it.
AHEAD = dt.timedelta(days=8)
BEFORE, BEHIND = dt.timedelta(hours=3), dt.timedelta(hours=1)


def write_up(*, now: dt.datetime) -> Outage | None:
    """Plan one for a club that has none. Repeating it changes nothing."""
    relay = Relay.objects.filter(slug=RIDGE).select_related("site__steward").first()
    rows = Session.objects.filter(net__relay=relay, relay=None, starts_at__gt=now + AHEAD)
    session = rows.filter(state=Session.State.SCHEDULED).order_by("starts_at").first()
    if relay is None or session is None or Outage.objects.exists():
        return None
    by: Member | None = relay.site.steward
    terms = Terms(session.starts_at - BEFORE, session.ends_at + BEHIND, "New antenna on the tower")
    return outages.enter(relay, terms, by=by, now=now)
