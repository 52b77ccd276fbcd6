"""Outages: what may be planned and reported, and what is asked of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from django.db import IntegrityError, transaction

from relays import outages
from relays.models import Outage, Relay
from relays.outages import OutageRefused, Terms
from tests.conftest import NOW

HOUR = dt.timedelta(hours=1)
TOMORROW = NOW + dt.timedelta(days=1)
WORK = Terms(TOMORROW, TOMORROW + 4 * HOUR, "New antenna")
SILENT = Terms(NOW - HOUR, None, "No answer since noon", kind="unplanned")


def enter(relay: Relay, terms: Terms = WORK) -> Outage:
    return outages.enter(relay, terms, by=None, now=NOW)


@pytest.mark.parametrize(
    ("wrong", "field", "sentence"),
    [
        ({"ends_at": None}, "ends_at", "A planned outage has an end"),
        ({"ends_at": TOMORROW}, "ends_at", "end before it has begun"),
        ({"ends_at": TOMORROW + dt.timedelta(days=61)}, "ends_at", "set the relay's status"),
        ({"starts_at": NOW - HOUR}, "starts_at", "That is past"),
        ({"kind": "unplanned"}, "starts_at", "so it is planned"),
        ({"reason": "  "}, "reason", "Say why"),
    ],
)
def test_what_cannot_be_planned_is_refused_with_a_sentence(
    relay: Relay, wrong: dict[str, object], field: str, sentence: str
) -> None:
    with pytest.raises(OutageRefused) as refusal:
        enter(relay, replace(WORK, **wrong))
    assert (refusal.value.field, sentence in refusal.value.sentence) == (field, True)
    assert not Outage.objects.exists()


@pytest.mark.parametrize(
    ("start", "end", "is_free"), [(-2, 0, True), (4, 6, True), (3, 6, False), (-1, 1, False)]
)
def test_two_outages_of_one_relay_do_not_overlap(relay: Relay, start: int, end: int, is_free: bool) -> None:
    enter(relay)
    second = replace(WORK, starts_at=TOMORROW + start * HOUR, ends_at=TOMORROW + end * HOUR)
    if is_free:
        assert enter(relay, second).pk
    else:
        with pytest.raises(OutageRefused, match="has an outage in that time already"):
            enter(relay, second)


def test_one_without_an_end_leaves_no_room_behind_it(relay: Relay) -> None:
    enter(relay, SILENT)
    with pytest.raises(OutageRefused, match="already"):
        enter(relay)


def test_one_that_was_called_off_leaves_its_room(relay: Relay) -> None:
    outages.call_off(enter(relay), now=NOW)
    assert enter(relay).pk


def test_a_change_is_one_step_further_and_the_same_terms_are_none(relay: Relay) -> None:
    outage = enter(relay)
    assert not outages.change(outage, WORK, now=NOW)
    assert outages.change(outage, replace(WORK, ends_at=TOMORROW + 5 * HOUR), now=NOW)
    assert (outage.sequence, outage.ends_at) == (1, TOMORROW + 5 * HOUR)


def test_a_running_one_may_be_prolonged(relay: Relay) -> None:
    outage = enter(relay)
    assert outages.change(outage, replace(WORK, ends_at=TOMORROW + 9 * HOUR), now=TOMORROW + 2 * HOUR)


def test_the_relay_is_back(relay: Relay) -> None:
    outage = enter(relay, SILENT)
    assert outages.current_of(relay, now=NOW) == outage
    assert outages.end(outage, at=NOW, now=NOW)
    assert outages.current_of(relay, now=NOW) is None
    assert not outages.end(outage, at=NOW + HOUR, now=NOW + 2 * HOUR)


@pytest.mark.parametrize(("at", "sentence"), [(NOW + HOUR, "still ahead"), (NOW - HOUR, "had not begun")])
def test_it_cannot_be_back_ahead_of_time_nor_before_it_fell_silent(
    relay: Relay, at: dt.datetime, sentence: str
) -> None:
    with pytest.raises(OutageRefused, match=sentence):
        outages.end(enter(relay, SILENT), at=at, now=NOW)


def test_one_that_has_begun_is_ended_and_not_called_off(relay: Relay) -> None:
    with pytest.raises(OutageRefused, match="relay is back"):
        outages.call_off(enter(relay), now=TOMORROW + HOUR)


def test_what_is_over_stays_as_it_was(relay: Relay) -> None:
    with pytest.raises(OutageRefused, match="is over"):
        outages.change(enter(relay), replace(WORK, reason="Other"), now=TOMORROW + dt.timedelta(days=1))


def test_it_is_asked_about_by_halves_of_its_span(relay: Relay) -> None:
    outage = enter(relay)
    assert outages.between(NOW, TOMORROW) == []
    assert outages.between(NOW, TOMORROW + HOUR, relay=relay) == [outage]
    assert outages.between(TOMORROW + 4 * HOUR, TOMORROW + 5 * HOUR) == []
    assert outages.coming(now=NOW) == [outage]
    assert outages.next_of(relay, now=NOW) == outage
    assert outages.running(now=TOMORROW) == [outage]
    assert outages.running(now=TOMORROW + 4 * HOUR) == []


@pytest.mark.parametrize("wrong", [{"ends_at": TOMORROW}, {"ends_at": None, "kind": "planned"}])
def test_the_database_refuses_what_the_verbs_refuse(relay: Relay, wrong: dict[str, object]) -> None:
    row = {"relay": relay, "starts_at": TOMORROW, "ends_at": TOMORROW + HOUR, "reason": "x"} | wrong
    with pytest.raises(IntegrityError), transaction.atomic():
        Outage.objects.create(**row)
