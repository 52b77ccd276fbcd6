"""Reading what net control typed: a call sign, a time, a way in, a precedence.

A log must not argue with somebody who holds a microphone: part of a call sign, a report in words and an odd
time are taken as they are. Refused is only what could not be stored or would be guessed.
"""

from __future__ import annotations

import datetime as dt
import re
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from clubops import clock
from clubops.members import callsigns
from nets.models import CheckIn
from nets.models.checkins import CALL_SIGN_LENGTH
from relays.models import Relay

LENGTHS = {
    "name": ("name", 120),
    "place": ("place", 120),
    "report": ("signal report", 20),
    "via_note": ("note about the way in", 80),
    "notes": ("note", 2000),
}
# A time further from the start than this is taken for a slip of the finger.
FARTHEST = dt.timedelta(hours=18)

_CLOCK_TIME = re.compile(r"(\d{1,2})(?:[:.h ]?(\d{2}))(?:[:.](\d{2}))?\s*(z|utc|gmt)?", re.IGNORECASE)
_ABSENT = {"", "-", "none", "no", "no traffic"}
_TRAFFIC = {"r": "routine", "w": "welfare", "p": "priority", "e": "emergency"}
_WAYS = {"link": CheckIn.Via.LINK, "simplex": CheckIn.Via.SIMPLEX, "station": CheckIn.Via.STATION}


class TypedError(ValueError):
    """Something typed that cannot be used. `field` names it; the message is a sentence."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


@dataclass(frozen=True)
class Evening:
    """What the words of one log are read against: its zone and start, and the relays that may be named."""

    zone: str
    starts_at: dt.datetime
    relays: tuple[Relay, ...] = ()

    def relay(self, text: str) -> Relay | None:
        """The relay of that key, slug or name."""
        wanted = text.strip().casefold()
        return next(
            (each for each in self.relays if wanted in {str(each.pk), each.slug, each.name.casefold()}), None
        )


def read_key(value: object) -> uuid.UUID:
    """The idempotency key that a browser made. Raises `TypedError`."""
    try:
        return uuid.UUID(str(value))
    except ValueError:
        raise TypedError("key", f"“{value}” is not a key; a key is a UUID made by the page.") from None


def read_call_sign(text: str) -> str:
    """A call sign in its plain form, or as much of one as was heard, in capitals.

    Portable marks go ("/P"); text without the shape of a call sign is kept, for it may be part of one or a
    tactical call. Raises `TypedError` for nothing at all and for more than fits.
    """
    try:
        return callsigns.normalise(text)
    except callsigns.CallSignError:
        kept = " ".join(text.upper().replace("\N{LATIN CAPITAL LETTER O WITH STROKE}", "0").split())
    if not any(letter.isalnum() for letter in kept):
        raise TypedError(
            "call_sign", "There is no call sign; type at least the part of it that you heard, such as 2AAA."
        )
    if len(kept) > CALL_SIGN_LENGTH:
        raise TypedError(
            "call_sign",
            f"“{kept}” has {len(kept)} characters and a call sign at most {CALL_SIGN_LENGTH}; "
            "put the rest under notes.",
        )
    return kept


def as_signed(text: str) -> str:
    """The call sign as it was given, where marks went with it ("QZ2AAA/P"); empty where none did."""
    given = "".join(text.upper().replace("\N{LATIN CAPITAL LETTER O WITH STROKE}", "0").split())
    return given if "/" in given and given != read_call_sign(text) else ""


def read_text(field: str, value: object) -> str:
    """A line of text, outer spaces gone. Raises `TypedError` when it is longer than its column."""
    words, longest = LENGTHS[field]
    text = str(value or "").replace("\x00", "").strip()
    if field != "notes":
        text = " ".join(text.split())
    if len(text) > longest:
        raise TypedError(field, f"This {words} has {len(text)} characters; there is room for {longest}.")
    return text


def read_traffic(text: object) -> CheckIn.Traffic:
    """A precedence from its word or its letter: R, W, P. Raises `TypedError`."""
    plain = str(text or "").strip().casefold()
    if plain in _ABSENT:
        return CheckIn.Traffic.NONE
    try:
        return CheckIn.Traffic(_TRAFFIC.get(plain, plain))
    except ValueError:
        raise TypedError(
            "traffic", f"“{text}” is not a precedence; use routine, welfare, priority or emergency."
        ) from None


def read_via(text: object, evening: Evening) -> tuple[CheckIn.Via, Relay | None]:
    """The way in: "relay:7", a relay's name, "link", "simplex" or "station". Raises `TypedError`."""
    plain = str(text or "").strip()
    known = _WAYS | {str(way.label): way for way in _WAYS.values()}
    if way := known.get(plain.casefold()):
        return way, None
    if relay := evening.relay(plain.removeprefix("relay:")):
        return CheckIn.Via.RELAY, relay
    if plain.casefold() == "relay":
        return CheckIn.Via.RELAY, None
    names = ", ".join(each.name for each in evening.relays)
    raise TypedError(
        "via",
        f"“{plain}” is no way in that is known here; use link, simplex, through another station"
        + (f" or a relay: {names}." if names else "."),
    )


def read_time(text: str, evening: Evening) -> dt.datetime:
    """A time as people write it, in UTC: 19:42 or 1942 on the net's own clock, 2342z, or a whole ISO time.

    Hours and minutes alone mean the day that brings them nearest to the start of the session, so 00:10 is
    past midnight. Raises `TypedError`.
    """
    plain = text.strip()
    if match := _CLOCK_TIME.fullmatch(plain):
        return _nearest(match, text, evening)
    try:
        # Only a letter may follow: fromisoformat would also take a week number for a date.
        given = dt.datetime.fromisoformat(plain) if re.match(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d", plain) else None
    except ValueError:
        given = None
    if given is None:
        raise TypedError(
            "time",
            f"“{plain}” is not a time; write 19:42 on the net's clock, 2342z for UTC, or 2026-03-03 19:42.",
        )
    at = clock.to_utc(given, evening.zone).at if given.tzinfo is None else given.astimezone(dt.UTC)
    return _near_enough(at, text, evening)


def _nearest(match: re.Match[str], text: str, evening: Evening) -> dt.datetime:
    hour, minute, second = (int(part or 0) for part in match.group(1, 2, 3))
    if hour > 23 or minute > 59 or second > 59:
        raise TypedError("time", f"“{text.strip()}” is not a time; hours end at 23 and minutes at 59.")
    zone = "UTC" if match[4] else evening.zone
    day = clock.to_wall(evening.starts_at, zone).date()
    at = dt.time(hour, minute, second)
    candidates = [
        clock.to_utc(dt.datetime.combine(day + dt.timedelta(days=shift), at), zone).at for shift in (-1, 0, 1)
    ]
    return min(candidates, key=lambda each: abs(each - evening.starts_at))


def _near_enough(at: dt.datetime, text: str, evening: Evening) -> dt.datetime:
    if abs(at - evening.starts_at) > FARTHEST:
        wall = clock.to_wall(evening.starts_at, evening.zone)
        raise TypedError(
            "time",
            f"“{text.strip()}” is more than {FARTHEST // dt.timedelta(hours=1)} hours from the session, "
            f"which began on {wall:%Y-%m-%d} at {wall:%H:%M}.",
        )
    return at


def read_fields(given: Mapping[str, Any], evening: Evening, only: Iterable[str]) -> dict[str, Any]:
    """The named fields of a check-in as its columns hold them. Raises `TypedError` at the first bad one."""
    read: dict[str, Any] = {}
    for field in only:
        value = given[field]
        if field == "call_sign":
            read[field] = read_call_sign(str(value or ""))
        elif field == "traffic":
            read[field] = read_traffic(value)
        elif field == "via":
            read["via"], read["relay"] = read_via(value, evening)
        elif field == "time":
            read["heard_at"] = read_time(str(value or ""), evening)
        elif field == "is_struck":
            read[field] = bool(value)
        else:
            read[field] = read_text(field, value)
    return read
