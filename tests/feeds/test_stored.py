"""The shelf: what is touched is stale, what is built later wins, what is the same stays untouched."""

from __future__ import annotations

import datetime as dt
import gzip
import logging
from collections.abc import Callable

import pytest
from django.test import Client

from nets import feeds
from nets.calendars.feed import BuiltFeed, etag_of
from nets.feeds import stored
from nets.feeds.catalogue import Subject
from nets.models import FeedKey, Net, Session, StoredCalendar
from tests.conftest import NOW, Cast
from tests.feeds.readers import events
from tests.feeds.readers import stored as bytes_of

CLUB = Subject()
SECOND = dt.timedelta(seconds=1)


def built_feed(words: str) -> BuiltFeed:
    content = words.encode() * 50
    return BuiltFeed(content, etag_of(content), NOW)


def row() -> StoredCalendar:
    return StoredCalendar.objects.get(key="club")


@pytest.fixture
def shelf(db: None) -> StoredCalendar:
    stored.touch([CLUB])
    stored.put(stored.stale()[0], built_feed("first"), now=NOW)
    return row()


def test_a_calendar_nobody_knew_is_stale(db: None) -> None:
    assert stored.touch([CLUB]) is True
    assert [each.subject for each in stored.stale()] == [CLUB]


def test_only_the_first_touch_calls_somebody(shelf: StoredCalendar) -> None:
    assert [stored.touch([CLUB]) for _ in range(3)] == [True, False, False]


def test_built_bytes_are_fresh_and_come_compressed_too(shelf: StoredCalendar) -> None:
    assert stored.stale() == []
    assert gzip.decompress(shelf.body_gzip) == bytes(shelf.body) == b"first" * 50


def test_the_same_bytes_keep_their_date(shelf: StoredCalendar) -> None:
    stored.touch([CLUB])
    assert stored.put(stored.stale()[0], built_feed("first"), now=NOW + dt.timedelta(hours=1)) is False
    assert row().modified_at == NOW
    assert stored.stale() == []


def test_other_bytes_within_one_second_have_a_later_date(shelf: StoredCalendar) -> None:
    stored.touch([CLUB])
    assert stored.put(stored.stale()[0], built_feed("second"), now=NOW + SECOND / 2) is True
    assert row().modified_at == NOW + SECOND


def test_other_bytes_after_the_clock_was_put_back_have_a_later_date(shelf: StoredCalendar) -> None:
    stored.touch([CLUB])
    stored.put(stored.stale()[0], built_feed("second"), now=NOW - dt.timedelta(days=1))
    assert row().modified_at == NOW + SECOND


def test_a_slow_builder_does_not_replace_later_bytes(shelf: StoredCalendar) -> None:
    stored.touch([CLUB])
    [slow] = stored.stale()
    stored.touch([CLUB])
    [quick] = stored.stale()
    assert stored.put(quick, built_feed("new"), now=NOW) is True
    assert stored.put(slow, built_feed("old"), now=NOW) is False
    assert bytes(row().body) == b"new" * 50


def test_what_is_touched_while_it_is_built_stays_stale(shelf: StoredCalendar) -> None:
    stored.touch([CLUB])
    [work] = stored.stale()
    stored.touch([CLUB])
    stored.put(work, built_feed("half new"), now=NOW)
    assert [each.subject for each in stored.stale()] == [CLUB]


def test_bytes_for_an_address_that_was_made_anew_meanwhile_are_dropped(shelf: StoredCalendar) -> None:
    for _ in range(3):
        stored.touch([CLUB])
    [work] = stored.stale()
    StoredCalendar.objects.all().delete()
    stored.touch([CLUB])
    assert stored.put(work, built_feed("of the old one"), now=NOW) is False


def test_the_regular_rebuilding_finds_what_was_never_touched(shelf: StoredCalendar) -> None:
    [work] = stored.everything()
    assert stored.put(work, built_feed("first"), now=NOW) is False
    assert stored.put(work, built_feed("other"), now=NOW) is True
    assert stored.stale() == []


def test_bytes_for_a_calendar_that_is_gone_are_dropped(shelf: StoredCalendar) -> None:
    stored.touch([CLUB])
    [work] = stored.stale()
    StoredCalendar.objects.all().delete()
    assert stored.put(work, built_feed("new"), now=NOW) is False


def test_rebuilding_looks_again_for_what_was_touched_meanwhile(
    built: Net, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever touches a stale calendar calls nobody: the run under way must find it."""
    puts: list[str] = []
    original = stored.put

    def put_and_touch_once(work: stored.Work, *args: object, **kwargs: object) -> bool:
        puts.append(work.subject.key)
        if len(puts) == 1:
            stored.touch([work.subject])
        return original(work, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(stored, "put", put_and_touch_once)
    stored.touch([CLUB])
    feeds.rebuild_touched(now=NOW)
    assert puts == ["club", "club"]
    assert stored.stale() == []


def test_one_net_that_no_calendar_can_hold_leaves_the_others_in(
    built: Net, caplog: pytest.LogCaptureFixture
) -> None:
    Net.objects.create(
        name="Ancient Net",
        slug="ancient-net",
        simplex_mhz="146.520",
        first_date=dt.date(1950, 1, 3),
        start_time=dt.time(20),
        zone="America/New_York",
        rule="FREQ=NONSENSE",
    )
    with caplog.at_level(logging.ERROR):
        feeds.rebuild_changed(now=NOW)
    assert [str(event["SUMMARY"]) for event in events(bytes_of("club"))] == ["Ridge Net"]
    assert "Ancient Net" in caplog.text
    assert not StoredCalendar.objects.get(net__slug="ancient-net", has_alarms=False).body


def test_a_net_that_is_deleted_takes_its_calendars_along(built: Net) -> None:
    built.delete()
    feeds.rebuild_changed(now=NOW)
    assert set(StoredCalendar.objects.values_list("net", flat=True)) == {None}
    assert events(bytes_of("club")) == []


def test_a_revoked_calendar_is_forgotten(key: FeedKey, cast: Cast) -> None:
    assert StoredCalendar.objects.filter(member=cast.net_control).exists()
    feeds.revoke(cast.net_control, now=NOW)
    assert not StoredCalendar.objects.filter(member=cast.net_control).exists()


def test_a_member_who_left_is_forgotten(key: FeedKey, cast: Cast) -> None:
    cast.net_control.is_active = False
    cast.net_control.save()
    feeds.rebuild_changed(now=NOW)
    assert not StoredCalendar.objects.filter(member=cast.net_control).exists()


def test_alarms_are_a_calendar_of_their_own(built: Net) -> None:
    [plain], [alarmed] = (events(bytes_of(f"net:{built.pk}{suffix}")) for suffix in ("", "/alarms"))
    assert plain.walk("VALARM") == []
    [alarm] = alarmed.walk("VALARM")
    assert alarm["TRIGGER"].dt == -dt.timedelta(minutes=30)


def test_a_member_chooses_the_alarm(key: FeedKey, session: Session, cast: Cast) -> None:
    session.duties.create(member=cast.net_control, role="net_control")
    assert feeds.set_alarm(cast.net_control, 60) is True
    feeds.rebuild_changed(now=NOW)
    [event] = events(bytes_of(f"member:{cast.net_control.pk}"))
    assert event.walk("VALARM")[0]["TRIGGER"].dt == -dt.timedelta(hours=1)
    assert feeds.renew(cast.net_control, now=NOW).alarm_before_min == 60


@pytest.mark.parametrize(
    ("chosen", "minutes"), [("60", 60), ("none", None), ("7", 15), ("", 15), ("soon", 15)]
)
def test_the_page_sets_what_it_offers_and_nothing_else(
    chosen: str, minutes: int | None, key: FeedKey, as_reader: Callable[[str], Client]
) -> None:
    FeedKey.objects.filter(pk=key.pk).update(alarm_before_min=15)
    response = as_reader("net control").post("/my-duties/calendar/alarm/", {"minutes": chosen})
    assert response.status_code == 302
    assert FeedKey.objects.get(pk=key.pk).alarm_before_min == minutes
