"""Whether somebody's licence covers a chair: what is sent on, from which station, on the evening's date."""

from __future__ import annotations

from decimal import Decimal

from clubops import clock
from clubops.members import privileges
from clubops.members.licences import LicenceClass
from clubops.members.models import Member, Station
from clubops.members.segments import Operation, Verdict
from nets.models import Session
from relays.bands import HALF_OCCUPIED_MHZ


def transmit_mhz(session: Session) -> Decimal | None:
    """What a station in the session sends on: the input of a relay, or the simplex frequency."""
    relay = session.relay_in_use
    return relay.input_mhz if relay is not None else session.terms.simplex_mhz


def verdict(session: Session, member: Member, station: Station | None) -> Verdict:
    """Whether the member may be net control or backup there, by the calendar of their own zone."""
    sent_mhz = transmit_mhz(session)
    if sent_mhz is None:
        return Verdict("unknown", "has no frequency to send on", "frequency")
    return privileges.may_transmit(
        member,
        sent_mhz,
        station.power_w if station is not None else None,
        on=clock.to_wall(session.starts_at, member.zone).date(),
        half_bandwidth_mhz=HALF_OCCUPIED_MHZ,
        needs=Operation.CHAIR,
    )


def guest_verdict(session: Session) -> Verdict | None:
    """The same of guests by the class they told the club, whatever their power; None for the club's own nets."""
    sent_mhz, guest_class = transmit_mhz(session), session.net.guest_class
    if not session.net.guest_of or guest_class is None or sent_mhz is None:
        return None
    return privileges.class_may(
        guest_class, sent_mhz, None, half_bandwidth_mhz=HALF_OCCUPIED_MHZ, needs=Operation.CHAIR
    )


def classes_for(session: Session) -> list[LicenceClass]:
    """Classes whose holders may take the chair there with some power, the one that is allowed least first."""
    sent_mhz = transmit_mhz(session)
    if sent_mhz is None:
        return []
    return privileges.classes_that_may(sent_mhz, half_bandwidth_mhz=HALF_OCCUPIED_MHZ)
