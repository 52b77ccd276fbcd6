"""Quiet hours, pauses and the order of the three limits."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ImproperlyConfigured

from clubops.notices import checks
from clubops.notices.policy import JITTER, LONGEST_PAUSE, Policy, QuietHours, current, problems

NEW_YORK = "America/New_York"
NIGHT = QuietHours(dt.time(22), dt.time(7))


def there(hour: int, minute: int = 0, day: int = 3) -> dt.datetime:
    return dt.datetime(2026, 3, day, hour, minute, tzinfo=ZoneInfo(NEW_YORK)).astimezone(dt.UTC)


@pytest.mark.parametrize(
    ("at", "ends"),
    [
        (there(21, 59), None),
        (there(22), there(7, day=4)),
        (there(23, 59), there(7, day=4)),
        (there(0), there(7)),
        (there(6, 59), there(7)),
        (there(7), None),
    ],
)
def test_quiet_hours_run_over_midnight(at, ends):
    assert NIGHT.end_of_quiet(at, NEW_YORK) == ends


def test_quiet_hours_may_lie_within_a_day():
    nap = QuietHours(dt.time(13), dt.time(15))
    assert nap.end_of_quiet(there(14), NEW_YORK) == there(15)
    assert nap.end_of_quiet(there(15), NEW_YORK) is None


def test_quiet_hours_are_read_from_text():
    assert QuietHours.parse("22:00-07:00") == NIGHT
    assert QuietHours.parse("none") is None


@pytest.mark.parametrize("text", ["", "22:00", "22-7", "22:00-22:00", "25:00-07:00", "night"])
def test_quiet_hours_that_make_no_sense_are_refused_with_a_sentence(text):
    with pytest.raises(ImproperlyConfigured, match="write two different wall times"):
        QuietHours.parse(text)


MUCH_LATER = there(12, day=30)


def hold(at, *, event_at=None, not_after=MUCH_LATER, urgent_h=4):
    policy = Policy(urgent=dt.timedelta(hours=urgent_h))
    return policy.hold_until(at, zone=NEW_YORK, quiet=NIGHT, not_after=not_after, event_at=event_at)


def test_a_notice_in_the_night_waits_for_the_morning():
    assert hold(there(23)) == there(7, day=4)


def test_a_notice_in_the_day_does_not_wait():
    assert hold(there(12)) is None


def test_a_notice_about_the_early_morning_does_not_wait():
    assert hold(there(23), event_at=there(10, 59, day=4)) is None
    assert hold(there(23), event_at=there(11, day=4)) == there(7, day=4)


def test_a_notice_that_would_be_too_late_does_not_wait():
    assert hold(there(23), not_after=there(7, day=4)) is None


def test_pauses_double_up_to_two_hours_give_or_take_a_quarter():
    for attempt, minutes in enumerate([1, 2, 4, 8, 16, 32, 64, 120, 120, 120], start=1):
        pause = Policy().pause_after(attempt, "a key") / dt.timedelta(minutes=minutes)
        assert 1 - JITTER <= pause <= 1 + JITTER
    assert Policy().pause_after(10**6, "a key") <= LONGEST_PAUSE * (1 + JITTER)


def test_two_notices_that_failed_together_do_not_return_together():
    pauses = {Policy().pause_after(3, f"key {number}") for number in range(100)}
    assert len(pauses) == 100
    assert max(pauses) - min(pauses) > dt.timedelta(minutes=1.5)


def test_the_default_tries_outlast_an_hour_of_trouble():
    waits = [Policy().pause_after(attempt, "a key") for attempt in range(1, Policy().most_attempts)]
    assert sum(waits, dt.timedelta(0)) > dt.timedelta(hours=4)


def test_the_settings_keep_the_order_of_the_limits():
    assert problems(current()) == []
    assert checks.check_policy() == []


@pytest.mark.parametrize(
    ("setting", "value", "words"),
    [
        ("NOTICES_LEASE_S", 200, "the lease must be longer"),
        ("NOTICES_RUN_LIMIT_S", 20, "the limit must be the longer"),
    ],
)
def test_a_limit_out_of_order_is_an_error_of_the_check(settings, setting, value, words):
    setattr(settings, setting, value)
    (error,) = checks.check_policy()
    assert words in error.msg
