"""Calendars, addresses and drafts that nobody can ask for any more go."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from clubops.notices import health
from clubops.notices.models import Notice
from nets import feeds, pruning, tasks
from nets.models import FeedKey, Net, RotaDraft, StoredCalendar
from tests.conftest import NOW, Cast

DAY = dt.timedelta(days=1)
LATER = NOW + 401 * DAY
State = RotaDraft.State


@pytest.fixture
def clear(db: None):
    """Clear away at an instant, as a run that is not the first."""

    def run(now: dt.datetime = LATER) -> pruning.Cleared:
        health.beat(health.PLANNING, now=now)
        health.beat(health.PRUNING, now=now - DAY / 4)
        return pruning.clear_old(now=now)

    return run


def draft(state: str, *, weeks: int = 12) -> RotaDraft:
    return RotaDraft.objects.create(state=state, weeks=weeks, made_at=NOW - 12 * 7 * DAY)


@pytest.mark.parametrize("state", [State.PUBLISHED, State.DISCARDED, State.FAILED, State.READY])
def test_a_draft_goes_when_its_last_session_is_long_over(clear, state):
    draft(state)
    assert (clear(LATER - 2 * DAY).drafts, clear().drafts) == (0, 1)


@pytest.mark.parametrize("given", [{"state": State.WAITING}, {"state": State.SOLVING}])
def test_a_draft_that_is_at_work_stays(clear, given):
    draft(**given)
    assert clear().drafts == 0


def test_a_draft_that_reaches_far_ahead_stays(clear):
    draft(State.PUBLISHED, weeks=52)
    assert clear().drafts == 0


def test_an_address_revoked_long_ago_goes_and_still_answers_404(clear, client, cast: Cast):
    feeds.renew(cast.member, now=NOW)
    address = feeds.member_address(cast.member)
    feeds.revoke(cast.member, now=NOW)
    assert (clear(NOW + DAY).addresses, clear().addresses) == (0, 1)
    assert client.get("/" + address.split("/", 3)[3]).status_code == 404


def test_an_address_in_use_stays_however_old(clear, cast: Cast):
    feeds.renew(cast.member, now=NOW)
    clear()
    assert FeedKey.objects.count() == 1


def test_a_calendar_of_nobody_goes_and_the_others_stay(clear, net: Net):
    feeds.rebuild_changed(now=NOW)
    kept = StoredCalendar.objects.count()
    StoredCalendar.objects.create(key="member:999")
    assert (clear().calendars, StoredCalendar.objects.count()) == (1, kept)


def test_the_settings_say_how_long(clear, settings):
    settings.KEEP_DAYS = 800
    draft(State.PUBLISHED)
    assert clear().drafts == 0


def test_the_health_page_says_when_it_last_ran(db, client):
    tasks.clear_old()
    page = client.get(reverse("health")).content.decode()
    assert "Old rows last cleared away" in page
    assert client.get(reverse("health"), {"format": "json"}).json()["pruning_ran_at"]
    assert Notice.objects.count() == 0
