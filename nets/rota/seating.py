"""Who may sit where: absences, refusals, licences and paths, person by person and session by session."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field

from clubops import clock
from clubops.members.models import Member, Station
from clubops.members.segments import watts
from nets import duties, privileges
from nets.models import Session
from nets.rota.problem import Offer
from nets.rota.reasons import Bar
from nets.rota.rules import in_words
from relays import paths
from relays.models import PathVerdict, Relay
from relays.propagation.verdicts import spoken_probability

#: A path this far above what the net asks for costs nothing; each 3 dB less costs one. Common practice, no source.
TO_SPARE_DB = 12.0
STEP_DB = 3.0


@dataclass(frozen=True)
class Seating:
    """One person at one session: the station they would use, how its path stands, and a bar if there is one."""

    member: Member
    session: Session
    station: Station | None
    standing: paths.Standing | None
    bar: Bar | None

    @property
    def path_cost(self) -> int:
        """Steps of 3 dB by which the path falls short of 12 dB above the least; 0 on simplex."""
        if self.standing is None or self.standing.verdict is None:
            return 0
        excess_db = self.standing.verdict.margin_db - self.standing.verdict.minimum_margin_db
        return max(0, math.ceil((TO_SPARE_DB - excess_db) / STEP_DB))

    @property
    def offer(self) -> Offer | None:
        if self.bar is not None:
            return None
        return Offer(self.member.call_sign, str(self.session.pk), self.path_cost)


@dataclass
class Usher:
    """Answers who may sit where, asking for each path once.

    Members come with `stations`, `absences`, `licence_class__privileges` prefetched, sessions with net and relays.
    """

    now: dt.datetime
    refused: set[tuple[int, int]] = field(default_factory=set)
    verdicts: dict[tuple[int, int], PathVerdict] = field(default_factory=dict)

    def seat(self, member: Member, session: Session, station: Station | None = None) -> Seating:
        """`station` is where a turn was already given from, if it names one."""
        chosen = duties.station_for(member, station)
        standing = self._standing(session, chosen)
        bar = (
            self._absent(member, session)
            or _unlicensed(member, session, chosen)
            or self._unheard(member, session, chosen, standing)
        )
        return Seating(member, session, chosen, standing, bar)

    def verdict(self, station: Station, relay: Relay) -> PathVerdict:
        key = (station.pk, relay.pk)
        if key not in self.verdicts:
            self.verdicts[key] = paths.verdict_now(station, relay, now=self.now)
        return self.verdicts[key]

    def _standing(self, session: Session, station: Station | None) -> paths.Standing | None:
        relay = session.relay_in_use
        if relay is None or station is None:
            return None
        return paths.standing_of(
            self.verdict(station, relay),
            relay,
            minimum_margin_db=session.net.minimum_margin_db,
            minimum_probability=session.net.minimum_probability,
        )

    def _absent(self, member: Member, session: Session) -> Bar | None:
        key, beside = str(session.pk), session.occurrence_date
        if (member.pk, session.pk) in self.refused:
            return Bar(member.call_sign, key, "away", "declined this turn")
        first = clock.to_wall(session.starts_at, member.zone).date()
        last = clock.to_wall(session.ends_at, member.zone).date()
        for absence in member.absences.all():
            if absence.first_date <= last and absence.last_date >= first:
                words = f"is away until {in_words(absence.last_date, beside)}"
                return Bar(member.call_sign, key, "away", words)
        return None

    def _unheard(
        self, member: Member, session: Session, station: Station | None, standing: paths.Standing | None
    ) -> Bar | None:
        relay, net, key = session.relay_in_use, session.net, str(session.pk)
        if relay is None:
            return None
        if station is None:
            return Bar(member.call_sign, key, "unknown", "has no main station on record to check a path from")
        if standing is None or standing.verdict is None:
            return Bar(member.call_sign, key, "unknown", f"has no answer for the path to {relay.name}")
        if standing.is_usable:
            return None
        found = standing.verdict
        shortfall_db = net.minimum_margin_db - found.margin_db
        if shortfall_db > 0:
            words = (
                f"has a margin of {decibels(found.margin_db)} to {relay.name}, "
                f"below the {decibels(net.minimum_margin_db)} this net asks for"
            )
            return Bar(member.call_sign, key, "path", words, shortfall_db)
        words = (
            f"has a {spoken_probability(found.probability)} of a usable signal to {relay.name}, "
            f"below the {100 * net.minimum_probability:.0f} % this net asks for"
        )
        return Bar(member.call_sign, key, "path", words)


def _unlicensed(member: Member, session: Session, station: Station | None) -> Bar | None:
    """A bar where the club's table says no; what it does not hold keeps nobody out of a chair."""
    found = privileges.verdict(session, member, station)
    if not found.is_refused:
        return None
    remedy = ""
    if found.fault == "power" and found.most_power_w is not None:
        remedy = (
            f"may take it with the station turned down to {watts(found.most_power_w)}, if the path then holds"
        )
    return Bar(member.call_sign, str(session.pk), "licence", found.words, remedy=remedy)


def decibels(value: float) -> str:
    """Such as +2.1 dB or −3.0 dB."""
    return f"{value:+.1f}".replace("-", "\N{MINUS SIGN}") + " dB"
