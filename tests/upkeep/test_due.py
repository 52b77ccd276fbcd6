"""The standing of a task, putting it off, and who is asked."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from clubops.members.permissions import Reader
from relays.models import ReadingKind, UpkeepTask
from relays.upkeep import due, people, records
from tests.conftest import NOW
from tests.upkeep.conftest import DAY, TODAY, done, make_task

DUE_ON = dt.date(2026, 3, 10)


@pytest.mark.parametrize(
    ("days", "state", "words"),
    [
        (-12, "overdue", "12 days overdue"),
        (-1, "overdue", "1 day overdue"),
        (0, "soon", "due today"),
        (1, "soon", "due in 1 day"),
        (30, "soon", "due in 30 days"),
        (31, "later", "due in 31 days"),
    ],
)
def test_a_task_is_overdue_soon_or_later(battery, days, state, words):
    standing = due.standing_of(battery, today=DUE_ON - days * DAY)
    assert (standing.state, standing.words) == (state, words)


def test_today_is_the_clubs_day():
    """01:00 UTC on the 4th is still the 3rd in New York."""
    assert due.club_day(dt.datetime(2026, 3, 4, 1, tzinfo=dt.UTC)) == TODAY


def test_the_newest_day_counts_not_the_newest_row(battery):
    done(battery, dt.date(2025, 6, 1))
    assert due.standing_of(battery, today=TODAY).due_on == DUE_ON


def test_a_task_is_put_off_once(battery, cast):
    due.shift([battery], days=7, today=TODAY)
    standing = due.standing_of(battery, today=TODAY)
    assert (standing.by_rhythm_on, standing.due_on) == (DUE_ON, DUE_ON + 7 * DAY)
    records.record(battery, records.Visit(TODAY, cast.member), now=NOW)
    assert due.standing_of(battery, today=TODAY).due_on == dt.date(2026, 6, 3)


def test_an_overdue_task_is_put_off_from_today(battery):
    due.shift([battery], days=7, today=DUE_ON + 20 * DAY)
    assert due.standing_of(battery, today=TODAY).due_on == DUE_ON + 27 * DAY


def test_the_board_knows_no_task_laid_to_rest(battery):
    battery.is_active = False
    battery.save()
    assert due.board(today=TODAY).everything == []


def test_the_board_asks_few_questions(battery, site, django_assert_num_queries):
    for number in range(5):
        make_task(site, name=f"Task {number}")
    with django_assert_num_queries(1):
        due.board(today=TODAY)


def test_a_member_sees_what_waits_for_them_alone(battery, cast):
    assert [each.task for each in due.of_member(cast.member, today=TODAY)] == [battery]
    assert due.of_member(cast.net_control, today=TODAY) == []  # only the stand-in
    cast.member.is_active = False
    cast.member.save()
    assert [each.task for each in due.of_member(cast.net_control, today=TODAY)] == [battery]


def test_the_ladder_names_everybody_once(battery, cast):
    assert people.chain(battery) == [cast.member, cast.steward, cast.officer]
    battery.responsible = cast.steward
    assert people.chain(battery) == [cast.steward, cast.officer]


def test_who_may_write_it_down(battery, cast):
    may = {
        who: people.may_record(Reader(member.user), battery)
        for who, member in cast.readers.items()
        if member is not None
    }
    assert may == {
        "member": True, "net control": True, "steward": True, "officer": True, "net manager": False,
    }  # fmt: skip


# What a task may be ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"every": None}, "Say how many days or months lie between"),
        ({"every": 0}, "greater than or equal to 1"),
        ({"every": 1, "lead_days": 28}, "28 days is too early"),
        ({"fixed_dates": "1 May"}, "An interval has no fixed dates"),
        ({"rhythm": "dates"}, "Fixed dates have no interval"),
        ({"rhythm": "dates", "every": None}, "Write at least one day and month"),
        ({"rhythm": "dates", "every": None, "fixed_dates": "31 June"}, "June has the days 1 to 30"),
        ({"hazards": ["dragons"]}, "Hazards are a list of some of these"),
        ({"hazards": "tower"}, "Hazards are a list of some of these"),
        ({"lead_days": 400}, "365"),
    ],
)
def test_a_task_nobody_can_follow_is_refused(site, change, sentence):
    with pytest.raises(ValidationError, match=sentence):
        make_task(site, **change)


def test_a_task_belongs_to_a_site_or_a_relay(site, relay):
    for places in ({}, {"site": site, "relay": relay}):
        with pytest.raises(ValidationError, match="belongs to a site or to a relay"):
            make_task(**places)
        with pytest.raises(IntegrityError), transaction.atomic():
            UpkeepTask.objects.create(name="x", every=1, first_due_on=TODAY, **places)


def test_nobody_stands_in_for_themselves(site, cast):
    with pytest.raises(ValidationError, match="somebody else"):
        make_task(site, responsible=cast.member, stand_in=cast.member)


@pytest.mark.parametrize(("low", "high"), [(13.0, 12.0), (12.0, 12.0)])
def test_limits_the_wrong_way_round_are_refused(battery, low, high):
    kind = ReadingKind(task=battery, name="V", low=low, high=high)
    with pytest.raises(ValidationError, match="is not below the high limit"):
        kind.clean()
    with pytest.raises(IntegrityError), transaction.atomic():
        kind.save()
