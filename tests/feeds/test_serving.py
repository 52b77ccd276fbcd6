"""What a calendar address answers, header by header: a table for every audience."""

from __future__ import annotations

import datetime as dt
import gzip
from collections.abc import Callable
from urllib.parse import urlsplit

import icalendar
import pytest
from django.conf import settings
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from django.utils.http import http_date
from pytest_django import DjangoAssertNumQueries, Settings

from nets import feeds
from nets.models import FeedKey, Net, Session, StoredCalendar
from tests.conftest import NOW, Cast
from tests.feeds.readers import stored

DATE = http_date(NOW.timestamp())
Ask = Callable[..., HttpResponse]
PUBLIC = ["club", "net", "relay", "club with alarms", "net with alarms", "relay with alarms"]
EVERY = [*PUBLIC, "member"]


@pytest.fixture
def paths(built: Net, key: FeedKey) -> dict[str, str]:
    slugs = {"net": [built.slug], "relay": [built.relay.slug], "club": []}
    found = {kind: reverse(f"nets:{kind}_feed", args=slug) for kind, slug in slugs.items()}
    found |= {
        f"{kind} with alarms": reverse(f"nets:{kind}_feed_alarms", args=slug) for kind, slug in slugs.items()
    }
    return found | {"member": reverse("nets:member_feed", args=[key.token])}


@pytest.fixture
def ask(paths: dict[str, str], client: Client) -> Ask:
    def get(which: str, method: str = "get", **headers: str) -> HttpResponse:
        return getattr(client, method)(
            paths[which], headers={name.replace("_", "-"): value for name, value in headers.items()}
        )

    return get


@pytest.mark.parametrize("which", EVERY)
def test_a_calendar_comes_whole(which: str, ask: Ask) -> None:
    response = ask(which)
    assert response.status_code == 200
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    assert response["Content-Length"] == str(len(response.content))
    assert response["Last-Modified"] == DATE
    assert response["Vary"] == "Accept-Encoding"
    assert "Content-Encoding" not in response
    assert icalendar.Calendar.from_ical(response.content).name == "VCALENDAR"


@pytest.mark.parametrize("which", EVERY)
def test_the_compressed_one_is_the_same_calendar_under_another_tag(which: str, ask: Ask) -> None:
    plain, packed = ask(which), ask(which, accept_encoding="gzip")
    assert packed["Content-Encoding"] == "gzip"
    assert packed["Content-Length"] == str(len(packed.content))
    assert gzip.decompress(packed.content) == plain.content
    assert packed["ETag"] != plain["ETag"]
    assert not packed["ETag"].startswith("W/")


@pytest.mark.parametrize("coding", ["", "gzip"])
@pytest.mark.parametrize("which", EVERY)
def test_head_says_the_same_without_the_bytes(which: str, coding: str, ask: Ask) -> None:
    full, head = ask(which, accept_encoding=coding), ask(which, "head", accept_encoding=coding)
    assert head.content == b""
    assert dict(head.headers) == dict(full.headers)


@pytest.mark.parametrize("coding", ["", "gzip"])
@pytest.mark.parametrize("method", ["get", "head"])
@pytest.mark.parametrize("which", EVERY)
def test_who_has_it_is_told_so(which: str, method: str, coding: str, ask: Ask) -> None:
    full = ask(which, accept_encoding=coding)
    response = ask(which, method, accept_encoding=coding, if_none_match=full["ETag"])
    assert (response.status_code, response.content) == (304, b"")
    # RFC 9110 section 15.4.5: these as in a 200, and nothing else about the bytes.
    for name in ("ETag", "Vary", "Cache-Control"):
        assert response[name] == full[name]
    assert not {"Content-Type", "Content-Length", "Content-Encoding", "Last-Modified"} & set(response.headers)


@pytest.mark.parametrize("which", EVERY)
def test_the_tag_of_the_other_coding_does_not_count(which: str, ask: Ask) -> None:
    plain, packed = ask(which), ask(which, accept_encoding="gzip")
    assert ask(which, if_none_match=packed["ETag"]).status_code == 200
    assert ask(which, accept_encoding="gzip", if_none_match=plain["ETag"]).status_code == 200
    both = f"{plain['ETag']}, {packed['ETag']}"
    assert ask(which, accept_encoding="gzip", if_none_match=both)["ETag"] == packed["ETag"]


@pytest.mark.parametrize("which", EVERY)
def test_by_date_alone(which: str, ask: Ask) -> None:
    assert ask(which, if_modified_since=DATE).status_code == 304
    assert ask(which, if_modified_since=http_date(NOW.timestamp() - 1)).status_code == 200
    assert ask(which, if_modified_since=DATE, if_none_match='"other"').status_code == 200


@pytest.mark.parametrize("which", EVERY)
def test_a_failed_precondition(which: str, ask: Ask) -> None:
    response = ask(which, if_match='"other"')
    assert (response.status_code, response.content) == (412, b"")


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete", "options"])
@pytest.mark.parametrize("which", ["club", "member"])
def test_only_reading_is_allowed(which: str, method: str, ask: Ask) -> None:
    response = ask(which, method)
    assert (response.status_code, response["Allow"]) == (405, "GET, HEAD")


NONSENSE = {
    "if_none_match": ["", '"', "\xe9\xff", "*" * 9000, ",,,,", 'W/"'],
    "if_modified_since": ["", "now", "Tue, 99 Mar 99999 12:00:00 GMT", "0", "\xe9"],
    "accept_encoding": ["", "gzip;q=x", ";q=1", "\xe9", "gzip;" * 3000],
    "if_match": ['"', "\xe9"],
    "if_unmodified_since": ["never", ""],
    "range": ["bytes=0-", "bytes=5-1", "x"],
    "if_range": ['"x"', "then"],
}


@pytest.mark.parametrize(
    ("header", "value"), [(name, each) for name, values in NONSENSE.items() for each in values]
)
def test_nonsense_is_never_an_error(header: str, value: str, ask: Ask) -> None:
    assert ask("member", **{header: value}).status_code == (412 if header == "if_match" else 200)


def test_the_public_may_be_cached_and_the_private_not_shared(ask: Ask) -> None:
    for which in PUBLIC:
        assert ask(which)["Cache-Control"] == "public, max-age=900"
    assert ask("member")["Cache-Control"] == "private, no-cache"


@pytest.mark.parametrize("which", EVERY)
def test_no_cookie_no_policy_of_pages_and_no_guessing_of_types(which: str, ask: Ask) -> None:
    response = ask(which)
    assert not response.cookies
    assert "Content-Security-Policy" not in response
    assert response["X-Content-Type-Options"] == "nosniff"


def test_a_changed_calendar_has_another_tag_and_a_later_date(ask: Ask, session: Session) -> None:
    before = ask("club")
    session.note = "Bring a friend."
    session.save()
    feeds.rebuild_changed(now=NOW + dt.timedelta(seconds=1))
    after = ask("club", if_none_match=before["ETag"])
    assert after.status_code == 200
    assert ask("club", if_modified_since=before["Last-Modified"]).status_code == 200


def test_a_date_ahead_of_the_clock_is_not_told(ask: Ask, session: Session) -> None:
    """RFC 9110 section 8.8.2.1: Last-Modified is never later than Date."""
    session.note = "Bring a friend."
    session.save()
    feeds.rebuild_changed(now=NOW)
    response = ask("club")
    assert response.status_code == 200
    assert "Last-Modified" not in response


@pytest.mark.parametrize(("which", "queries"), [("club", 1), ("net", 1), ("relay", 1), ("member", 1)])
def test_one_look_at_the_database(
    which: str, queries: int, ask: Ask, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(queries):
        tag = ask(which)["ETag"]
    with django_assert_num_queries(queries):
        assert ask(which, if_none_match=tag).status_code == 304


def test_who_has_it_costs_no_bytes(ask: Ask, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    tag = ask("club")["ETag"]
    with django_assert_num_queries(1) as captured:
        ask("club", if_none_match=tag)
    assert '"body' not in captured.captured_queries[0]["sql"]


# Without the short way through the middleware ----------------------------------------------------------


@pytest.mark.parametrize("which", EVERY)
def test_the_long_way_round_says_the_same(which: str, ask: Ask, settings: Settings) -> None:
    short = ask(which)
    settings.MIDDLEWARE = [each for each in settings.MIDDLEWARE if not each.endswith("CalendarsFirst")]
    long = Client().get(urlsplit(short.wsgi_request.path).path)
    assert (long.status_code, long.content, long["ETag"]) == (200, short.content, short["ETag"])
    # Only there does it meet the policy of pages.
    assert "Content-Security-Policy" in long


def test_the_short_way_stands_right_below_the_security_headers() -> None:
    first, second, *_ = settings.MIDDLEWARE
    assert (first.rsplit(".")[-1], second.rsplit(".")[-1]) == ("SecurityMiddleware", "CalendarsFirst")


# What is not there -------------------------------------------------------------------------------------


def test_an_unknown_net_is_unknown(paths: dict[str, str], client: Client) -> None:
    for path in ("nets/no-such-net.ics", "relays/no-such-relay.ics", "with-alarms/nets/no-such-net.ics"):
        assert client.get(f"/calendars/{path}").status_code == 404


@pytest.mark.parametrize(
    "path", ["", "x.ics", "nets/.ics", "mine/.ics", "mine/a/b.ics", "nets/é.ics", "//.ics"]
)
def test_a_path_that_is_none_is_unknown(path: str, paths: dict[str, str], client: Client) -> None:
    assert client.get(f"/calendars/{path}").status_code == (200 if path == "" else 404)


def test_a_net_entered_a_moment_ago_asks_for_patience_and_calls_one_worker(
    built: Net, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    StoredCalendar.objects.all().delete()
    woken: list[str] = []
    monkeypatch.setattr("nets.changes.wake", lambda task, **options: woken.append(task.name))
    for _ in range(20):
        response = client.get(reverse("nets:net_feed", args=[built.slug]))
        assert (response.status_code, response["Retry-After"], response["Cache-Control"]) == (
            503,
            "30",
            "no-store",
        )
    assert woken == ["nets.tasks.rebuild_touched_calendars"]
    feeds.rebuild_touched(now=NOW)
    assert client.get(reverse("nets:net_feed", args=[built.slug])).status_code == 200


def test_a_new_private_address_answers_at_once(session: Session, cast: Cast, client: Client) -> None:
    feeds.renew(cast.net_control, now=NOW)
    response = client.get(feeds.member_address(cast.net_control))
    assert response.status_code == 200
    assert response.content == stored(f"member:{cast.net_control.pk}")
