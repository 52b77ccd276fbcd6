"""What happens when the clock is wrong, changes, or a week goes by unattended: decided, and held to."""

from __future__ import annotations

import datetime as dt

from django.core import mail as outgoing

from clubops.notices import outbox, reports
from clubops.notices.models import Notice
from clubops.notices.policy import Policy, QuietHours
from clubops.notices.wanted import reconcile
from tests.notices.conftest import NOW, PLAIN, POLICY, wish
from tests.notices.test_delivery import run

State = Notice.State
HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)


def test_a_clock_that_jumps_back_sends_nothing_twice(member, enter, clock):
    enter(member())
    run(clock)
    clock.forward(hours=-3)
    run(clock)
    clock.forward(hours=4)
    run(clock)
    assert len(outgoing.outbox) == 1


def test_a_clock_that_jumps_back_delays_what_was_not_due_yet(member, enter, clock):
    enter(member())
    clock.forward(hours=-1)
    assert run(clock).sent == 0
    clock.forward(hours=1)
    assert run(clock).sent == 1


def test_a_claim_made_by_a_clock_in_the_future_does_not_stand_for_ever(member, enter, clock):
    notice = enter(member(), not_after=NOW + 9 * 365 * DAY)
    outbox.claim(notice, now=NOW + 8 * 365 * DAY, policy=POLICY)
    assert run(clock).sent == 1


def test_a_claim_stands_when_the_clock_jumps_back_a_little(member, enter, clock):
    notice = enter(member(), due_at=NOW - HOUR)
    outbox.claim(notice, now=NOW, policy=POLICY)
    clock.forward(minutes=-9)
    assert run(clock).sent == 0


def test_what_a_wrong_clock_called_too_late_waits_again_when_it_is_right(member, clock, plain_kind):
    asked = wish(member(), due_at=NOW + DAY)
    reconcile([asked], kinds=[PLAIN], now=NOW)
    clock.forward(days=30)
    assert run(clock).missed == 1
    clock.forward(days=-30)
    assert reconcile([asked], kinds=[PLAIN], now=clock()).revived == 1
    clock.forward(days=1)
    assert run(clock).sent == 1


def test_quiet_hours_end_by_the_wall_clock_on_the_night_the_clocks_change():
    quiet = QuietHours(dt.time(22), dt.time(7))
    spring = dt.datetime(2026, 3, 8, 5, 0, tzinfo=dt.UTC)  # midnight in New York; clocks go forward at two
    autumn = dt.datetime(2026, 11, 1, 4, 0, tzinfo=dt.UTC)  # midnight in New York; clocks go back at two
    assert quiet.end_of_quiet(spring, "America/New_York") == dt.datetime(2026, 3, 8, 11, 0, tzinfo=dt.UTC)
    assert quiet.end_of_quiet(autumn, "America/New_York") == dt.datetime(2026, 11, 1, 12, 0, tzinfo=dt.UTC)


def test_a_week_of_downtime_is_told_to_the_manager_once_and_to_nobody_else(member, enter, clock, manager):
    people = [member() for _ in range(4)]
    for day in range(7):
        for person in people:
            enter(person, f"day {day}", due_at=NOW + day * DAY, not_after=NOW + day * DAY + 2 * HOUR)
    clock.forward(days=7)
    for _ in range(5):
        run(clock)
        clock.forward(minutes=1)
    assert [(each.to[0], each.subject) for each in outgoing.outbox] == [
        (manager.email, "28 notices did not arrive")
    ]
    assert Notice.objects.filter(kind=reports.KIND).count() == 1


def test_what_is_still_good_after_downtime_comes_in_one_mail_a_person(member, enter, clock):
    person = member()
    for day in range(3):
        enter(person, f"day {day}", due_at=NOW + day * DAY, not_after=NOW + 30 * DAY)
    clock.forward(days=7)
    run(clock)
    assert [each.subject for each in outgoing.outbox] == ["day 0 (and 2 more)"]


def test_a_night_after_downtime_is_still_a_night(member, enter, clock):
    enter(member(), not_after=NOW + 30 * DAY)
    clock.forward(days=7, hours=12)  # midnight in New York
    night = Policy(quiet=QuietHours(dt.time(22), dt.time(7)))
    assert run(clock, policy=night).sent == 0
    clock.forward(hours=8)
    assert run(clock, policy=night).sent == 1
