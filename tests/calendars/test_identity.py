"""UID and SEQUENCE."""

from __future__ import annotations

import uuid
from datetime import date

import pytest

from nets.calendars.identity import Revision, mint, revise


def test_the_uid_is_a_uuid_that_tells_nothing_of_its_seed() -> None:
    uid = mint("net", "9f1c", revisions=[0]).uid
    assert uuid.UUID(uid).version == 5
    assert "9f1c" not in uid


def test_kind_seed_and_date_each_make_another_uid() -> None:
    made = {
        mint("net", "a", revisions=[0]).uid,
        mint("net", "b", revisions=[0]).uid,
        mint("duty", "a", revisions=[0]).uid,
        mint("session", "a", revisions=[0], occurrence=date(2026, 3, 3)).uid,
        mint("session", "a", revisions=[0], occurrence=date(2026, 3, 10)).uid,
    }
    assert len(made) == 5


def test_the_sequence_rises_when_any_counter_does_and_the_uid_stays() -> None:
    before = mint("session", "a", revisions=[2, 3])
    after = mint("session", "a", revisions=[2, 4])
    assert after.sequence > before.sequence
    assert after.uid == before.uid


def test_it_refuses_an_empty_seed() -> None:
    with pytest.raises(ValueError, match="seed"):
        mint("net", " ", revisions=[0])


def test_it_refuses_a_counter_below_nothing() -> None:
    with pytest.raises(ValueError, match=r"\[0, -1\]"):
        mint("net", "a", revisions=[0, -1])


def test_a_revision_rises_by_one_with_each_change_and_rests_otherwise() -> None:
    first = revise(None, "Tuesday", 19)
    same = revise(first, "Tuesday", 19)
    moved = revise(same, "Tuesday", 20)
    assert (first.sequence, same, moved.sequence) == (0, first, 1)


def test_a_change_taken_back_is_a_change_too() -> None:
    first = revise(None, "19:30")
    back = revise(revise(first, "20:00"), "19:30")
    assert back == Revision(2, first.digest)
