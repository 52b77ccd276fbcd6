"""Sessions that fall into an outage of their relay."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator

from clubops.templatetags.measures import wall_time
from nets import silences
from nets.conflicts.conflict import Conflict, gathered, on_date_at
from nets.models import Session
from relays.models import Outage

KIND = "outage"


def silenced(sessions: Iterable[Session]) -> Iterator[Conflict]:
    """Each net with each outage that it meets, however many of its sessions fall into it."""
    for group in gathered(silences.meetings(sessions), lambda pair: (pair[0].net_id, pair[1].pk)):
        session, outage = group[0]
        yield Conflict(
            KIND,
            session.starts_at,
            session.net.zone,
            (session.net.name, outage.relay.name),
            _sentence(session, outage),
            _way_out(outage, session.net.zone),
            len(group),
            (session,),
            (session.net,),
        )


def _sentence(session: Session, outage: Outage) -> str:
    zone = session.net.zone
    until = f"until {wall_time(outage.ends_at, zone)}" if outage.ends_at else "and nobody knows until when"
    return (
        f"{session.net.name} is to meet on {outage.relay.name} {on_date_at(session.starts_at, zone)}, and the relay is "
        f"{outage.get_effect_display()} from {wall_time(outage.starts_at, zone)} {until}: {outage.reason.rstrip('.')}."
    )


def _way_out(outage: Outage, zone: str) -> str:
    if not outage.silences:
        return "Ask net control to check the path that evening, or move the session to another relay."
    later = _after(outage.ends_at, zone)
    return f"Move the session to another relay{later}, or call it off."


def _after(end: dt.datetime | None, zone: str) -> str:
    return f", or to a time after {wall_time(end, zone)}" if end else ""
