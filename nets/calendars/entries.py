"""What a calendar is made from: plain values, filled in by whoever reads the database.

Instants are aware; dates and wall times are in the net's own zone; a `sequence` is the row's counter of
changes.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from nets.calendars.identity import Identity, Kind, mint

Status = Literal["confirmed", "tentative", "cancelled"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedSession:
    """A session that is not what the rule says: moved, cancelled, renamed, elsewhere, or added by hand.

    `occurrence_date` is the local date on which the rule placed it (for an added one, its own date): a net
    meets at most once a local date. None in a wording field means "as the series says". Once a session has
    been published as changed, keep giving it, also when it is back to what the rule says: a reader that
    merges would keep the change.
    """

    occurrence_date: date
    starts_at: datetime
    duration: timedelta
    sequence: int
    last_modified: datetime
    status: Status = "confirmed"
    title: str | None = None
    description: str | None = None
    location: str | None = None
    url: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NetSeries:
    """A recurring net: wall time of its first session, IANA zone, RFC 5545 rule, what departs from it.

    `last_date` is the last local date on which it may meet, beside any end in the rule itself. On an
    excluded date the rule gives nothing and the calendar shows nothing; a cancelled session stays visible
    as cancelled.
    """

    seed: str
    title: str
    zone: str
    first_wall: datetime
    duration: timedelta
    rule: str
    sequence: int
    created: datetime
    last_modified: datetime
    description: str = ""
    location: str = ""
    url: str = ""
    last_date: date | None = None
    excluded_dates: tuple[date, ...] = ()
    changed: tuple[ChangedSession, ...] = ()
    categories: tuple[str, ...] = ()

    @property
    def identity(self) -> Identity:
        return mint("net", self.seed, revisions=(self.sequence,))

    def identity_alone(self, occurrence: date, sequence: int = 0) -> Identity:
        """Of a session written as an entry of its own; never ranks below the series."""
        return mint("session", self.seed, occurrence=occurrence, revisions=(self.sequence, sequence))


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleEvent:
    """Something that happens once: a duty, an outage, or any other dated event.

    `busy` blocks the reader's time. One that is `all_day` is of whole days wherever the reader is: it begins at
    midnight UTC of its first day and lasts as many days as it says.
    """

    kind: Kind
    seed: str
    title: str
    starts_at: datetime
    duration: timedelta
    sequence: int
    created: datetime
    last_modified: datetime
    status: Status = "confirmed"
    description: str = ""
    location: str = ""
    url: str = ""
    busy: bool = False
    all_day: bool = False
    categories: tuple[str, ...] = ()

    @property
    def identity(self) -> Identity:
        return mint(self.kind, self.seed, revisions=(self.sequence,))


@dataclass(frozen=True, slots=True)
class Party:
    """One end of an invitation."""

    name: str
    address: str
