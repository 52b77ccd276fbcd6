"""When a task is due again: month ends, leap days, fixed dates."""

from __future__ import annotations

import datetime as dt

import pytest

from relays.upkeep import rhythm
from relays.upkeep.rhythm import Plan, RhythmError

D = dt.date


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (D(2026, 1, 15), 1, D(2026, 2, 15)),
        (D(2026, 1, 31), 1, D(2026, 2, 28)),
        (D(2028, 1, 31), 1, D(2028, 2, 29)),
        (D(2026, 8, 31), 1, D(2026, 9, 30)),
        (D(2028, 2, 29), 12, D(2029, 2, 28)),
        (D(2028, 2, 29), 48, D(2032, 2, 29)),
        (D(2026, 11, 30), 3, D(2027, 2, 28)),
        (D(2026, 12, 1), 1, D(2027, 1, 1)),
    ],
)
def test_a_month_later_is_the_same_day_or_the_months_last(day, months, expected):
    assert rhythm.add_months(day, months) == expected


def test_an_interval_counts_from_when_it_was_done_not_from_when_it_was_due():
    plan = Plan("days", D(2026, 3, 1), every=30)
    assert rhythm.next_due(plan, None) == D(2026, 3, 1)
    assert rhythm.next_due(plan, D(2026, 3, 9)) == D(2026, 4, 8)


def test_months_count_on_from_the_day_it_was_done():
    plan = Plan("months", D(2026, 1, 31), every=1)
    done = rhythm.next_due(plan, D(2026, 1, 31))
    assert done == D(2026, 2, 28)
    assert rhythm.next_due(plan, done) == D(2026, 3, 28)


SPRING_AND_AUTUMN = Plan("dates", D(2026, 3, 1), dates=((4, 15), (10, 15)), lead_days=14)


@pytest.mark.parametrize(
    ("done_on", "due_on"),
    [
        (None, D(2026, 4, 15)),
        (D(2026, 3, 20), D(2026, 4, 15)),  # too early to count for April
        (D(2026, 4, 1), D(2026, 10, 15)),  # within its lead time
        (D(2026, 4, 15), D(2026, 10, 15)),
        (D(2026, 6, 30), D(2026, 10, 15)),  # late, and still for April
        (D(2026, 10, 14), D(2027, 4, 15)),
    ],
)
def test_fixed_dates_stand_still(done_on, due_on):
    assert rhythm.next_due(SPRING_AND_AUTUMN, done_on) == due_on


def test_dates_before_the_task_began_do_not_count():
    plan = Plan("dates", D(2026, 9, 1), dates=((4, 15), (10, 15)))
    assert rhythm.next_due(plan, D(2026, 2, 1)) == D(2026, 10, 15)


def test_the_29th_of_february_is_the_last_day_of_february_every_year():
    plan = Plan("dates", D(2027, 1, 1), dates=((2, 29),))
    assert rhythm.next_due(plan, None) == D(2027, 2, 28)
    assert rhythm.next_due(plan, D(2027, 2, 28)) == D(2028, 2, 29)


def test_dates_are_read_as_people_write_them():
    assert rhythm.parse_dates("15 October, 1 apr, 29 February") == ((2, 29), (4, 1), (10, 15))
    assert rhythm.dates_in_words(((2, 29), (4, 1), (10, 15))) == "29 February, 1 April and 15 October"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "No date was given"),
        (" , ", "No date was given"),
        ("30 February", "February has the days 1 to 29"),
        ("0 May", "May has the days 1 to 31"),
        ("15/4", "“15/4” is not a day and a month"),
        ("April 15", "“April 15” is not a day and a month"),
        ("3 Ju", "“3 Ju” is not a day and a month"),
        ("²3 May", "is not a day and a month"),
        ("1 May, 1 May", "given twice"),
        ("28 February, 29 February", "given twice"),
    ],
)
def test_other_dates_are_refused_with_a_sentence(text, sentence):
    with pytest.raises(RhythmError, match=sentence):
        rhythm.parse_dates(text)


@pytest.mark.parametrize(
    ("plan", "words", "gap"),
    [
        (Plan("days", D(2026, 1, 1), every=1), "every day", 1),
        (Plan("days", D(2026, 1, 1), every=7), "every 7 days", 7),
        (Plan("months", D(2026, 1, 1), every=1), "every month", 28),
        (Plan("months", D(2026, 1, 1), every=3), "every 3 months", 89),
        (Plan("dates", D(2026, 1, 1), dates=((4, 15),)), "on 15 April", 365),
        (Plan("dates", D(2026, 1, 1), dates=((1, 1), (12, 31))), "on 1 January and 31 December", 1),
    ],
)
def test_a_rhythm_in_words_and_its_shortest_gap(plan, words, gap):
    assert rhythm.in_words(plan) == words
    assert rhythm.shortest_gap_days(plan) == gap


def test_lead_times_are_sorted_and_each_kept_once():
    assert rhythm.parse_leads("30, 120,90, 30") == (120, 90, 30)


@pytest.mark.parametrize("text", ["", "0", "-3", "ten", "1,2,3,4,5,6,7", "9999", "1.5", "99999999999"])
def test_other_lead_times_are_refused(text):
    with pytest.raises(RhythmError):
        rhythm.parse_leads(text)
