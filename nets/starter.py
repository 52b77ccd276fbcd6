"""What somebody new to the air needs: the channels to set, the next evening of each net, how far sight reaches."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from nets import agenda
from nets.models import Net, Session
from nets.schedule import PLANNED_WEEKS
from relays.models import Relay
from relays.propagation import optics, units

# A radio held at the face of somebody who stands.
HANDHELD_M = 1.5
# An example to teach with: a hill this much above the country around it.
HILL_M = 300.0


@dataclass(frozen=True, slots=True)
class Channel:
    """One line of the channel card: a relay, or a frequency that a net uses without one. Frequencies in MHz."""

    number: int
    name: str
    listen_mhz: Decimal
    offset_mhz: Decimal | None
    access: str
    nets: tuple[Net, ...]
    relay: Relay | None = None

    @property
    def is_silent(self) -> bool:
        """A relay that is not on the air: on the card for the day it is back."""
        return self.relay is not None and not self.relay.is_on_the_air


@dataclass(frozen=True, slots=True)
class Sight:
    """How far sight reaches from a radio in the hand over smooth ground, refraction counted in, km."""

    to_another_km: float
    hill_m: float
    to_the_hill_km: float


def channels() -> list[Channel]:
    """The relays in their own order, then the simplex frequencies of the nets, numbered from 1."""
    nets = list(Net.objects.filter(is_active=True).select_related("relay"))
    relays = Relay.objects.exclude(status=Relay.Status.PLANNED).select_related("site")
    rows = [_of_relay(relay, [net for net in nets if net.relay_id == relay.pk]) for relay in relays]
    rows += _simplex([net for net in nets if net.relay_id is None])
    return [Channel(number, *row) for number, row in enumerate(rows, start=1)]


_Row = tuple[str, Decimal, Decimal | None, str, tuple[Net, ...], Relay | None]


def _of_relay(relay: Relay, nets: Iterable[Net]) -> _Row:
    return relay.name, relay.output_mhz, relay.offset_mhz, _access(relay), tuple(nets), relay


def _simplex(nets: Iterable[Net]) -> list[_Row]:
    by_frequency: dict[Decimal, list[Net]] = {}
    for net in nets:
        if net.simplex_mhz is not None:
            by_frequency.setdefault(net.simplex_mhz, []).append(net)
    return [
        ("Simplex", mhz, None, "none", tuple(several), None)
        for mhz, several in sorted(by_frequency.items(), key=lambda each: each[0])
    ]


def _access(relay: Relay) -> str:
    if relay.access_tone_hz:
        return f"tone {relay.access_tone_hz} Hz"
    return f"code {relay.access_code}" if relay.access_code else "open"


def first_evenings(*, now: dt.datetime) -> list[agenda.Chairs]:
    """The next session of each net that is not called off, earliest first."""
    coming = agenda.between(now, now + dt.timedelta(weeks=PLANNED_WEEKS))
    found: dict[int, agenda.Chairs] = {}
    for seat in coming:
        if seat.session.state == Session.State.SCHEDULED:
            found.setdefault(seat.session.net_id, seat)
    return list(found.values())


def sight() -> Sight:
    """From hand to hand, and from a hand to a relay on a hill: height is what decides.

    Source: the geometry of `optics.horizon_km`.
    """
    return Sight(optics.horizon_km(HANDHELD_M, HANDHELD_M), HILL_M, optics.horizon_km(HILL_M, HANDHELD_M))


def twice_the_power_db() -> float:
    """What twice the power is worth, dB."""
    return units.db_from_ratio(2.0)
