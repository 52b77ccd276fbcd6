"""Rules in plain words, and plain choices into rules and back."""

import re
from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given, settings

from nets import recurrence
from nets.recurrence import PlainChoices, Rule
from tests.nets.test_recurrence_properties import SERIES, rules

SAID = [
    ("FREQ=WEEKLY;BYDAY=TU", "every Tuesday at 19:30"),
    ("FREQ=WEEKLY;BYDAY=TH,TU", "every Tuesday and Thursday at 19:30"),
    ("FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,TH", "every other week on Tuesday and Thursday at 19:30"),
    ("FREQ=WEEKLY;INTERVAL=3;BYDAY=MO", "every third week on Monday at 19:30"),
    ("FREQ=WEEKLY;INTERVAL=12;BYDAY=MO", "every 12th week on Monday at 19:30"),
    ("FREQ=WEEKLY", "every week at 19:30"),
    ("FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR,SA,SU", "every day at 19:30"),
    ("FREQ=WEEKLY;BYDAY=MO,WE,FR;BYSETPOS=1", "first of Monday, Wednesday and Friday in every week at 19:30"),
    ("FREQ=MONTHLY;BYDAY=3TH,1TH", "first and third Thursday of the month at 19:30"),
    ("FREQ=MONTHLY;BYDAY=TH;BYSETPOS=1,3", "first and third Thursday of the month at 19:30"),
    ("FREQ=MONTHLY;BYDAY=-1SU", "last Sunday of the month at 19:30"),
    ("FREQ=MONTHLY;BYDAY=1TU,-1SU", "first Tuesday and last Sunday of the month at 19:30"),
    ("FREQ=MONTHLY;INTERVAL=2;BYDAY=-2MO", "second from last Monday of every other month at 19:30"),
    ("FREQ=MONTHLY;INTERVAL=2;BYDAY=TU,TH", "every Tuesday and Thursday of every other month at 19:30"),
    ("FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13", "every Friday that is the 13th of the month at 19:30"),
    ("FREQ=MONTHLY;BYMONTHDAY=-1,2", "2nd and last day of the month at 19:30"),
    ("FREQ=MONTHLY;BYMONTHDAY=-6", "6th from last day of the month at 19:30"),
    (
        "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-1",
        "last day of the month that is a Monday, Tuesday, Wednesday, Thursday or Friday at 19:30",
    ),
    ("FREQ=MONTHLY", "every month at 19:30"),
    ("FREQ=DAILY", "every day at 19:30"),
    ("FREQ=DAILY;INTERVAL=2", "every other day at 19:30"),
    ("FREQ=DAILY;BYDAY=SA,SU", "every Saturday and Sunday at 19:30"),
    ("FREQ=DAILY;INTERVAL=3;BYDAY=SA,SU", "every third day that is a Saturday or Sunday at 19:30"),
    ("FREQ=DAILY;BYMONTHDAY=1", "every day that is the 1st of the month at 19:30"),
    ("FREQ=WEEKLY;BYDAY=TU;BYMONTH=10,11,12,1,2,3", "every Tuesday at 19:30, from October to March"),
    ("FREQ=WEEKLY;BYDAY=TU;BYMONTH=6,1", "every Tuesday at 19:30, in January and June"),
    ("FREQ=WEEKLY;BYDAY=TU;COUNT=10", "every Tuesday at 19:30, 10 times in all"),
    ("FREQ=WEEKLY;BYDAY=TU;COUNT=1", "every Tuesday at 19:30, once only"),
    (
        "FREQ=WEEKLY;BYDAY=TU;UNTIL=19971224T000000Z",
        "every Tuesday at 19:30, until 24 December 1997 00:00 UTC",
    ),
]


@pytest.mark.parametrize(("text", "words"), SAID)
def test_it_says_a_rule_as_people_do(text, words):
    assert recurrence.in_words(Rule.parse(text), time(19, 30)) == words


@pytest.mark.parametrize(("start", "last"), [(time(19), "23"), (time(19, 1), "22")])
def test_with_a_zone_the_end_is_the_last_local_date_on_which_it_can_meet(start, last):
    # 24 December 00:00 UTC is 23 December 19:00 in New York
    rule = Rule.parse("FREQ=DAILY;UNTIL=19971224T000000Z")
    assert recurrence.in_words(rule, start, "America/New_York").endswith(f"until {last} December 1997")


@settings(deadline=None)
@given(rule=rules())
def test_every_rule_can_be_said_and_in_one_breath(rule):
    words = recurrence.in_words(rule, time(19, 30))
    assert re.fullmatch(r"[A-Za-z0-9:, ]+", words)
    assert "  " not in words
    assert "19:30" in words


def test_plain_choices_make_rules():
    assert str(recurrence.weekly(["TU"])) == "FREQ=WEEKLY;BYDAY=TU"
    assert str(recurrence.weekly(["TU", "TH"], every=2)) == "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,TH"
    assert str(recurrence.monthly_by_weekday([1, 3], "TH")) == "FREQ=MONTHLY;BYDAY=1TH,3TH"
    assert str(recurrence.monthly_by_weekday([-1], "SU")) == "FREQ=MONTHLY;BYDAY=-1SU"
    assert str(recurrence.monthly_by_day([15])) == "FREQ=MONTHLY;BYMONTHDAY=15"
    assert str(recurrence.weekly(["TU"], months=[1, 2])) == "FREQ=WEEKLY;BYMONTH=1,2;BYDAY=TU"


def test_choices_are_found_again_in_the_rule():
    choices = PlainChoices(
        "monthly_by_weekday", every=2, days=("TH",), ordinals=(1, 3), months=(1, 9), count=5
    )
    assert recurrence.plain_choices(choices.rule()) == choices
    ends = datetime(2026, 12, 24, 23, 59, 59, tzinfo=UTC)
    weekly = PlainChoices("weekly", days=("TU", "TH"), until=ends)
    assert recurrence.plain_choices(weekly.rule()) == weekly


@pytest.mark.parametrize(
    "text",
    [
        "FREQ=WEEKLY",
        "FREQ=MONTHLY;BYDAY=1TU,-1SU",
        "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13",
        "FREQ=DAILY;BYDAY=SA",
        "FREQ=WEEKLY;INTERVAL=2;BYDAY=SU,MO;WKST=SU",
        "FREQ=MONTHLY;BYDAY=MO,TU;BYSETPOS=-1",
    ],
)
def test_a_rule_that_says_more_than_a_form_has_no_plain_choices(text):
    assert recurrence.plain_choices(Rule.parse(text)) is None


@settings(deadline=None)
@given(rule=rules(), series=SERIES)
def test_choices_meet_when_their_rule_meets(rule, series):
    choices = recurrence.plain_choices(rule)
    if choices is None:
        return
    begin = datetime(2026, 1, 1, tzinfo=UTC)
    span = {"from_utc": begin, "until_utc": begin + timedelta(weeks=60)}
    again = recurrence.occurrences(choices.rule(), **series, **span)
    assert again == recurrence.occurrences(rule, **series, **span)


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: recurrence.weekly([]), "Choose at least one day"),
        (lambda: recurrence.monthly_by_weekday([], "TU"), "which one in the month"),
        (lambda: recurrence.monthly_by_weekday([6], "TU"), "at most 5 times a month"),
        (lambda: recurrence.weekly(["Tuesday"]), "is not a day"),
        (lambda: recurrence.weekly(["TU"], every=-1), "whole number from 1 to 999"),
    ],
)
def test_it_refuses_choices_that_are_missing_or_out_of_range(make, sentence):
    with pytest.raises(recurrence.RuleError, match=sentence):
        make()
