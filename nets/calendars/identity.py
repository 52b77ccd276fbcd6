"""Who a calendar entry is: its UID and SEQUENCE, minted here and nowhere else.

A UID never changes while the thing it names exists (RFC 5545 section 3.8.4.7) and tells nothing about it
or about the machine that made it (RFC 7986 section 5.3): it is a name-based UUID (RFC 4122 section 4.3)
over the seed. A SEQUENCE never falls (RFC 5545 section 3.8.7.4).
"""

import hashlib
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

Kind = Literal["net", "session", "duty", "outage", "event"]

# Fixed for ever: changing it would give every entry in every subscriber's calendar a twin.
_NAMESPACE = uuid.UUID("5b1c8a52-63f1-4f0e-9d0a-2f8f4d1f7c36")


@dataclass(frozen=True, slots=True)
class Identity:
    """The UID and SEQUENCE of one VEVENT."""

    uid: str
    sequence: int


def mint(kind: Kind, seed: str, *, revisions: Iterable[int], occurrence: date | None = None) -> Identity:
    """The identity of an entry.

    `seed` must be unique in the world, such as the public UUID of the row; `occurrence` is the local date
    on which a net's rule placed the session, for a session that stands as an entry of its own. `revisions`
    are the counters of everything the entry is made from; their sum is the SEQUENCE, so it rises when any
    of them rises, and a session never ranks below its net. Raises `ValueError` for an empty seed or a
    counter that is not 0 or more.
    """
    counters = tuple(revisions)
    if not seed.strip():
        raise ValueError(
            "A calendar entry needs a seed, such as the public id of its row; it was given none."
        )
    if any(counter < 0 for counter in counters):
        raise ValueError(f"A revision counter is 0 or more; the counters given were {list(counters)}.")
    name = f"{kind}/{seed}" if occurrence is None else f"{kind}/{seed}/{occurrence.isoformat()}"
    return Identity(str(uuid.uuid5(_NAMESPACE, name)), sum(counters))


@dataclass(frozen=True, slots=True)
class Revision:
    """How often an entry has changed in a way that people must notice, and a digest of what it said last."""

    sequence: int
    digest: str


def revise(stored: Revision | None, *significant: object) -> Revision:
    """The revision after the entry says `significant` (its times, rule, place, status: anything with a
    stable repr).

    The same words give the stored revision back; other words give the next number.
    """
    digest = hashlib.sha256(repr(significant).encode()).hexdigest()[:32]
    if stored is None:
        return Revision(0, digest)
    if stored.digest == digest:
        return stored
    return Revision(stored.sequence + 1, digest)
