"""Kinds of notices: what each says, who watches over it. Apps register theirs when they are ready."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from clubops.members.models import Member
from clubops.notices.models import Notice


@dataclass(frozen=True, slots=True)
class Link:
    """A labelled address in a mail."""

    label: str
    url: str


@dataclass(frozen=True, slots=True)
class CalendarPart:
    """A calendar object to go with a mail, as RFC 6047 section 2.4 has it; `method` is REQUEST or CANCEL."""

    content: bytes
    method: str


@dataclass(frozen=True, slots=True)
class Letter:
    """What a notice says, in plain pieces; `mail` turns them into text and HTML that say the same.

    `told` are the facts stated, kept on the notice (JSON values).
    """

    subject: str
    lines: tuple[str, ...]
    facts: tuple[tuple[str, str], ...] = ()
    links: tuple[Link, ...] = ()
    calendar: CalendarPart | None = None
    told: dict[str, Any] = field(default_factory=dict)


class Untrue(Exception):
    """Raised by a renderer whose notice is no longer true; the sentence says why. It is withdrawn."""


Renderer = Callable[[Notice, dt.datetime], Letter]


def nobody(_notice: Notice) -> Member | None:
    """The watcher of kinds that nobody watches over."""
    return None


def stored_title(notice: Notice) -> str:
    """The title as the ledger has it."""
    return notice.title


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of notice.

    `render(notice, now)` writes today's truth or raises `Untrue`. `watcher(notice)` is the person to tell
    when one could not be delivered. A kind that `may_be_declined` is not sent to those who unsubscribed; the
    others are part of an office somebody holds. `is_urgent` goes out in quiet hours. One that `travels_alone`
    shares its mail with no other: calendar programs take one object from a mail; only with
    many of its own kind due at once (`outbox.MOST_ALONE`) does it go. `titled(notice)` gives its title in the
    language spoken just now; the stored one is English.
    """

    name: str
    words: str
    render: Renderer
    watcher: Callable[[Notice], Member | None] = nobody
    may_be_declined: bool = True
    is_urgent: bool = False
    travels_alone: bool = False
    titled: Callable[[Notice], str] = stored_title


class UnknownKind(LookupError):
    """No app has registered this kind; attribute `name`."""

    def __init__(self, name: str) -> None:
        self.name = name
        super().__init__(f"Nothing here knows how to write a notice of the kind “{name}”.")


_KINDS: dict[str, Kind] = {}


def register(kind: Kind) -> None:
    """Make a kind known. The same kind twice is fine, another one under the same name raises ValueError."""
    if _KINDS.setdefault(kind.name, kind) != kind:
        raise ValueError(f"There is another kind of notice called “{kind.name}” already.")


def named(name: str) -> Kind:
    """The kind of that name. Raises `UnknownKind`."""
    try:
        return _KINDS[name]
    except KeyError:
        raise UnknownKind(name) from None


def words(name: str) -> str:
    """The kind in words for a list; its bare name where nobody knows it any more."""
    return _KINDS[name].words if name in _KINDS else name.replace("_", " ")


def title(notice: Notice) -> str:
    """What a notice is about, in the language spoken just now."""
    return _KINDS[notice.kind].titled(notice) if notice.kind in _KINDS else notice.title


def declinable() -> list[Kind]:
    """The kinds a person may do without, by name."""
    return sorted((kind for kind in _KINDS.values() if kind.may_be_declined), key=lambda kind: kind.name)


def solitary() -> list[str]:
    """Names of the kinds that travel alone."""
    return sorted(kind.name for kind in _KINDS.values() if kind.travels_alone)
