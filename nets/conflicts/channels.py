"""Relays that are off the air while a net is to meet on them, and nets outside the band."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from django.conf import settings

from nets.conflicts.conflict import Conflict, gathered, on_date_at
from nets.models import Session
from relays import bands


def off_the_air(sessions: Iterable[Session]) -> Iterator[Conflict]:
    """Sessions on a relay that is off the air, or planned only, as the stewards last set it."""
    silent = [
        (session, relay)
        for session in sessions
        if (relay := session.relay_in_use) is not None and not relay.is_on_the_air
    ]
    for group in gathered(silent, lambda pair: (pair[0].net_id, pair[1].pk)):
        session, relay = group[0]
        net = session.net
        note = f" {relay.status_note.rstrip('.')}." if relay.status_note else ""
        yield Conflict(
            "relay off the air",
            session.starts_at,
            net.zone,
            (net.name, relay.name),
            f"{net.name} is to meet on {relay.name} {on_date_at(session.starts_at, net.zone)}, and "
            f"{relay.name} is {relay.get_status_display()}.{note}",
            "Move the session to another relay or call it off, unless the steward has it back by then.",
            len(group),
            (session,),
            (net,),
        )


def outside_the_band(sessions: Iterable[Session]) -> Iterator[Conflict]:
    """Nets on a frequency that no amateur band holds: by the relay's own band profile, or by the club's."""
    for group in gathered(sessions, lambda each: (each.net_id, each.relay_id, each.earlier_rule_id)):
        session = group[0]
        net = session.net
        wrong = [each.sentence for each in _problems(session) if each.is_error]
        if wrong:
            relay = session.relay_in_use
            yield Conflict(
                "outside the band",
                session.starts_at,
                net.zone,
                (net.name, relay.name if relay else f"{session.terms.simplex_mhz:.3f} MHz"),
                f"{net.name} is to meet {on_date_at(session.starts_at, net.zone)} outside the band. {wrong[0]}",
                "Choose another relay or another frequency for the net.",
                len(group),
                (session,),
                (net,),
            )


def _problems(session: Session) -> list[bands.Problem]:
    relay = session.relay_in_use
    if relay is not None:
        return bands.check_pair(relay.output_mhz, relay.input_mhz, relay.band_profile)
    if session.terms.simplex_mhz is None:
        return []
    return bands.check_simplex(session.terms.simplex_mhz, settings.CLUB_BAND_PROFILE)
