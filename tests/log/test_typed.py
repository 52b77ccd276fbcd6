"""What net control types, and what is made of it."""

from __future__ import annotations

import datetime as dt

import pytest

from nets.checkins import typed
from nets.checkins.typed import Evening, TypedError
from nets.models import CheckIn
from relays.models import Relay

# 19:30 on 3 March 2026 in New York.
EVENING = Evening("America/New_York", dt.datetime(2026, 3, 4, 0, 30, tzinfo=dt.UTC))


def utc(day: int, hour: int, minute: int) -> dt.datetime:
    return dt.datetime(2026, 3, day, hour, minute, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("text", "call_sign"),
    [
        ("qz2aaa", "QZ2AAA"),
        (" QZ2 AAA ", "QZ2AAA"),
        ("QZ2AAA/P", "QZ2AAA"),
        ("2aaa", "2AAA"),
        ("shelter 2", "SHELTER 2"),
    ],
)
def test_a_call_sign_is_normalised_or_kept_as_heard(text: str, call_sign: str) -> None:
    assert typed.read_call_sign(text) == call_sign


@pytest.mark.parametrize("text", ["", "   ", "-", "?"])
def test_nothing_is_no_call_sign(text: str) -> None:
    with pytest.raises(TypedError, match="at least the part of it that you heard"):
        typed.read_call_sign(text)


def test_a_call_sign_that_does_not_fit_is_refused_with_its_length() -> None:
    with pytest.raises(TypedError, match="has 21 characters and a call sign at most 16"):
        typed.read_call_sign("THE CAR PARK BY ROUTE")


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("19:42", utc(4, 0, 42)),
        ("1942", utc(4, 0, 42)),
        ("19.42", utc(4, 0, 42)),
        ("0042z", utc(4, 0, 42)),
        ("00:42 UTC", utc(4, 0, 42)),
        ("9:05", utc(3, 14, 5)),
        ("00:10", utc(4, 5, 10)),
        ("2026-03-03 19:42", utc(4, 0, 42)),
        ("2026-03-04T00:42:00Z", utc(4, 0, 42)),
    ],
)
def test_a_time_is_read_on_the_nets_clock_nearest_to_the_session(text: str, at: dt.datetime) -> None:
    assert typed.read_time(text, EVENING) == at


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("25:00", "hours end at 23"),
        ("19:75", "minutes at 59"),
        ("soon", "is not a time"),
        ("2026-W10-2", "is not a time"),
        ("2026-03-09 19:42", "more than 18 hours from the session"),
    ],
)
def test_a_time_that_is_none_gets_a_sentence(text: str, sentence: str) -> None:
    with pytest.raises(TypedError, match=sentence):
        typed.read_time(text, EVENING)


def test_a_time_in_the_repeated_hour_is_its_first_pass() -> None:
    """New York, 1 November 2026: 01:30 comes at 05:30 UTC and again at 06:30 (tz database)."""
    night = Evening("America/New_York", dt.datetime(2026, 11, 1, 5, 0, tzinfo=dt.UTC))
    assert typed.read_time("01:30", night) == dt.datetime(2026, 11, 1, 5, 30, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("text", "traffic"),
    [
        ("", ""),
        ("none", ""),
        ("r", "routine"),
        ("Welfare", "welfare"),
        ("P", "priority"),
        ("emergency", "emergency"),
    ],
)
def test_a_precedence_is_a_word_or_its_letter(text: str, traffic: str) -> None:
    assert typed.read_traffic(text) == traffic


def test_another_precedence_is_refused_by_name() -> None:
    with pytest.raises(TypedError, match="“flash” is not a precedence; use routine, welfare"):
        typed.read_traffic("flash")


def test_a_way_in_is_a_relay_a_link_simplex_or_another_station(relay: Relay) -> None:
    evening = Evening("UTC", EVENING.starts_at, (relay,))
    assert typed.read_via(f"relay:{relay.pk}", evening) == (CheckIn.Via.RELAY, relay)
    assert typed.read_via("ridge 2 m", evening) == (CheckIn.Via.RELAY, relay)
    assert typed.read_via("Simplex", evening) == (CheckIn.Via.SIMPLEX, None)
    assert typed.read_via("through another station", evening) == (CheckIn.Via.STATION, None)


def test_an_unknown_way_in_is_answered_with_the_known_ones(relay: Relay) -> None:
    with pytest.raises(TypedError, match=r"“pigeon” is no way in .* or a relay: Ridge 2 m"):
        typed.read_via("pigeon", Evening("UTC", EVENING.starts_at, (relay,)))


def test_a_note_too_long_says_how_long() -> None:
    with pytest.raises(TypedError, match="has 121 characters; there is room for 120"):
        typed.read_text("place", "x" * 121)


def test_a_null_character_does_not_reach_the_database() -> None:
    assert typed.read_text("notes", "two\x00\nlines ") == "two\nlines"
