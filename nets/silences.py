"""Which sessions fall into an outage of the relay they meet on: asked by pages, conflicts, notices and the agenda."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from nets.models import Session
from relays import outages
from relays.models import Outage


def meetings(
    sessions: Iterable[Session], found: Iterable[Outage] | None = None
) -> Iterator[tuple[Session, Outage]]:
    """Each session with each outage it falls into, in the order of the sessions.

    `found` are the outages to look at; left out, those of the whole span of the sessions, in one query.
    """
    rows = [each for each in sessions if each.relay_in_use is not None]
    if not rows:
        return
    if found is None:
        found = outages.between(min(each.starts_at for each in rows), max(each.ends_at for each in rows))
    by_relay: dict[int, list[Outage]] = defaultdict(list)
    for outage in found:
        by_relay[outage.relay_id].append(outage)
    for session in rows:
        relay = session.relay_in_use
        assert relay is not None
        for outage in by_relay.get(relay.pk, ()):
            if outage.overlaps(session.starts_at, session.ends_at):
                yield session, outage


def by_session(sessions: Iterable[Session]) -> dict[int, list[Outage]]:
    """The outages each session falls into, by its key; a session without one is left out."""
    found: dict[int, list[Outage]] = defaultdict(list)
    for session, outage in meetings(sessions):
        found[session.pk].append(outage)
    return dict(found)
