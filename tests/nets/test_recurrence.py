"""What a series of meetings does with spans, exclusions, extras, ends and bad rules.

COUNT with EXDATE and RDATE after RFC 5545 (2009) sections 3.3.10, 3.8.5.1 and 3.8.5.2; the refusals after the
grammar and the MUST NOTs of section 3.3.10.
"""

import re
from datetime import date, datetime

import pytest

from clubops import clock
from nets import recurrence
from nets.recurrence import Rule
from tests.nets.series import NEW_YORK, meet


def test_a_span_holds_its_start_but_not_its_end():
    rule = "FREQ=WEEKLY"
    assert len(meet(rule, "2026-03-03T19:30", since="2026-03-04T00:30", until="2026-03-10T23:30")) == 1
    assert len(meet(rule, "2026-03-03T19:30", since="2026-03-04T00:31", until="2026-03-10T23:31")) == 1
    assert len(meet(rule, "2026-03-03T19:30", since="2026-03-04T00:31", until="2026-03-10T23:30")) == 0


def test_an_excluded_date_is_still_counted():
    gone = datetime(2026, 3, 10, 19, 30)
    got = meet("FREQ=WEEKLY;COUNT=3", "2026-03-03T19:30", excluded_walls={gone})
    assert [item.key for item in got] == ["2026-03-03T19:30", "2026-03-17T19:30"]


def test_an_extra_date_is_added_once_and_an_exclusion_beats_it():
    extra, both = datetime(2026, 3, 6, 20), datetime(2026, 3, 7, 20)
    got = meet(
        "FREQ=WEEKLY;COUNT=1", "2026-03-03T19:30", extra_walls=[extra, extra, both], excluded_walls=[both]
    )
    assert [item.key for item in got] == ["2026-03-03T19:30", "2026-03-06T20:00"]


def test_a_last_date_bounds_the_rule_and_leaves_extras_alone():
    extra = datetime(2026, 4, 1, 19, 30)
    got = meet("FREQ=WEEKLY", "2026-03-03T19:30", ends_on=date(2026, 3, 10), extra_walls=[extra])
    assert [item.key for item in got] == ["2026-03-03T19:30", "2026-03-10T19:30", "2026-04-01T19:30"]


def test_the_first_occurrence_keeps_the_phase_of_a_start_that_the_rule_does_not_give():
    # Thursday 5 March 2026, every other week on Tuesday: that week is "on", its Tuesday is past
    rule, wall = Rule.parse("FREQ=WEEKLY;INTERVAL=2;BYDAY=TU"), datetime(2026, 3, 5, 19, 30)
    first = recurrence.first_occurrence(rule, first_wall=wall, zone=NEW_YORK)
    assert first.key == "2026-03-17T19:30"
    assert meet(str(rule), "2026-03-05T19:30", until="2026-09-01") == meet(
        str(rule), first.key, until="2026-09-01"
    )


def test_a_rule_that_never_meets_is_found_out_and_named():
    rule, wall = Rule.parse("FREQ=DAILY;BYMONTHDAY=30;BYMONTH=2"), datetime(2026, 3, 5, 19, 30)
    assert recurrence.first_occurrence(rule, first_wall=wall, zone=NEW_YORK) is None
    with pytest.raises(recurrence.NeverMeets, match="never meets"):
        recurrence.for_feed(rule, first_wall=wall, zone=NEW_YORK)


def test_a_feed_gets_until_in_place_of_count_and_of_a_last_date():
    wall = datetime(2026, 3, 3, 19, 30)

    def written(text, ends_on=None):
        return str(recurrence.for_feed(Rule.parse(text), first_wall=wall, zone=NEW_YORK, ends_on=ends_on))

    assert written("FREQ=WEEKLY;COUNT=2") == "FREQ=WEEKLY;UNTIL=20260310T233000Z"
    assert written("FREQ=WEEKLY", date(2026, 3, 16)) == "FREQ=WEEKLY;UNTIL=20260310T233000Z"
    assert written("FREQ=WEEKLY") == "FREQ=WEEKLY"


REFUSED = [
    ("", recurrence.UnreadableRule, "not of the form NAME=VALUE"),
    ("every tuesday", recurrence.UnreadableRule, "not of the form NAME=VALUE"),
    ("BYDAY=TU", recurrence.UnreadableRule, "must say FREQ"),
    ("FREQ=FORTNIGHTLY", recurrence.UnreadableRule, "FREQ=FORTNIGHTLY is not known"),
    ("FREQ=HOURLY;INTERVAL=3;UNTIL=19970902T210000Z", recurrence.UnsupportedRule, "not used for nets"),
    ("FREQ=YEARLY;BYMONTH=3", recurrence.UnsupportedRule, "with BYMONTH for a season"),
    ("FREQ=DAILY;BYHOUR=9", recurrence.UnsupportedRule, "the net's own start time"),
    ("FREQ=DAILY;BYDAY=TU;BYSETPOS=1", recurrence.UnsupportedRule, "of a week or a month"),
    ("FREQ=WEEKLY;FREQ=DAILY", recurrence.UnreadableRule, "FREQ is given twice"),
    ("FREQ=WEEKLY;COLOR=RED", recurrence.UnreadableRule, "COLOR is no part of a rule"),
    ("FREQ=WEEKLY;INTERVAL=0", recurrence.UnreadableRule, "whole number from 1 to 999"),
    ("FREQ=WEEKLY;INTERVAL=1000", recurrence.UnreadableRule, "whole number from 1 to 999"),
    ("FREQ=WEEKLY;COUNT=-1", recurrence.UnreadableRule, "whole number from 1 to 9999"),
    ("FREQ=WEEKLY;COUNT=٣", recurrence.UnreadableRule, "whole number from 1 to 9999"),
    ("FREQ=WEEKLY;BYDAY=TUE", recurrence.UnreadableRule, "BYDAY=TUE is not a day"),
    ("FREQ=WEEKLY;BYDAY=TU,,TH", recurrence.UnreadableRule, "is not a day"),
    ("FREQ=MONTHLY;BYDAY=6TU", recurrence.UnreadableRule, "at most 5 times a month"),
    ("FREQ=MONTHLY;BYDAY=0TU", recurrence.UnreadableRule, "at most 5 times a month"),
    ("FREQ=MONTHLY;BYMONTHDAY=32", recurrence.UnreadableRule, "not from 1 to 31"),
    ("FREQ=MONTHLY;BYMONTH=13", recurrence.UnreadableRule, "whole number from 1 to 12"),
    ("FREQ=WEEKLY;WKST=XX", recurrence.UnreadableRule, "WKST=XX is not a day"),
    ("FREQ=WEEKLY;UNTIL=20261224", recurrence.UnreadableRule, "not a date and time in UTC"),
    ("FREQ=WEEKLY;UNTIL=20261224T190000", recurrence.UnreadableRule, "not a date and time in UTC"),
    ("FREQ=WEEKLY;UNTIL=20260230T190000Z", recurrence.UnreadableRule, "not a date and time in UTC"),
    ("FREQ=WEEKLY;COUNT=2;UNTIL=20261224T000000Z", recurrence.ContradictoryRule, "not both"),
    ("FREQ=WEEKLY;BYMONTHDAY=3", recurrence.ContradictoryRule, "does not go with FREQ=WEEKLY"),
    ("FREQ=WEEKLY;BYDAY=1TU", recurrence.ContradictoryRule, "needs FREQ=MONTHLY"),
    ("FREQ=MONTHLY;BYSETPOS=1", recurrence.ContradictoryRule, "add BYDAY"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "error", "sentence"), REFUSED)
def test_it_refuses_a_rule_with_a_sentence(text, error, sentence):
    with pytest.raises(error, match=re.escape(sentence)):
        Rule.parse(text)


def test_it_refuses_a_bad_zone_a_start_with_an_offset_and_a_backward_span_even_where_nothing_occurs():
    dead = "FREQ=MONTHLY;BYMONTHDAY=31;BYMONTH=2"
    with pytest.raises(clock.ZoneUnknown):
        meet(dead, "2026-03-03T19:30", zone="Nowhere/Atall")
    with pytest.raises(clock.UnusableTime, match="carries no offset"):
        meet(dead, "2026-03-03T19:30+00:00")
    with pytest.raises(clock.BackwardSpan):
        meet(dead, "2026-03-03T19:30", since="2026-03-02", until="2026-03-01")


def test_numbered_and_plain_weekdays_in_one_rule_are_added_together():
    got = meet("FREQ=MONTHLY;BYDAY=TU,1MO;COUNT=5", "2026-03-01T19:30")
    assert [item.wall.day for item in got] == [2, 3, 10, 17, 24]


def test_a_rule_is_read_in_any_order_and_case():
    assert Rule.parse("rrule:wkst=su; byday=+1tu,-1su ;freq=monthly;interval=01") == Rule.parse(
        "FREQ=MONTHLY;BYDAY=1TU,-1SU;WKST=SU"
    )
