"""A private address is long, dies at once, and is in no log, no file name, no index and no other site."""

from __future__ import annotations

import logging
import sqlite3
from collections.abc import Callable, Iterator

import pytest
from django.contrib.admin.models import LogEntry
from django.test import Client
from django.urls import reverse

from clubops.logs import DiscreetFormatter, without_secrets
from nets import feeds
from nets.models import FeedKey, StoredCalendar
from nets.models.feeds import new_token
from tests.conftest import NOW, Cast
from tests.feeds.server import Served, serving


def path_of(key: FeedKey) -> str:
    return reverse("nets:member_feed", args=[key.token])


def test_a_token_holds_256_bits() -> None:
    tokens = {new_token() for _ in range(1000)}
    assert len(tokens) == 1000
    # 43 letters of an alphabet of 64 (RFC 4648 section 5).
    assert {len(token) for token in tokens} == {43}


def test_a_revoked_address_is_unknown_at_once(key: FeedKey, cast: Cast, client: Client) -> None:
    assert client.get(path_of(key)).status_code == 200
    feeds.revoke(cast.net_control, now=NOW)
    assert client.get(path_of(key)).status_code == 404
    assert client.get(path_of(key), headers={"if-none-match": "*"}).status_code == 404


def test_a_renewed_address_replaces_the_old_one(key: FeedKey, cast: Cast, client: Client) -> None:
    new = feeds.renew(cast.net_control, now=NOW)
    assert [client.get(path_of(each)).status_code for each in (key, new)] == [404, 200]


def test_the_address_of_somebody_who_left_is_unknown_at_once(
    key: FeedKey, cast: Cast, client: Client
) -> None:
    """Whoever sets this by hand sends no signal, and the bytes are still there."""
    type(cast.net_control).objects.filter(pk=cast.net_control.pk).update(is_active=False)
    assert StoredCalendar.objects.filter(member=cast.net_control).exists()
    assert client.get(path_of(key)).status_code == 404


def test_a_revoked_address_looks_like_one_that_never_was(key: FeedKey, cast: Cast, client: Client) -> None:
    feeds.revoke(cast.net_control, now=NOW)
    revoked, never = client.get(path_of(key)), client.get(f"/calendars/mine/{new_token()}.ics")
    assert (revoked.status_code, revoked.content, dict(revoked.headers)) == (
        never.status_code,
        never.content,
        dict(never.headers),
    )


@pytest.mark.parametrize("case", ["there", "not modified", "revoked", "not built", "wrong method"])
def test_no_answer_is_indexed_referred_to_or_shared(
    case: str, key: FeedKey, cast: Cast, client: Client
) -> None:
    if case == "revoked":
        feeds.revoke(cast.net_control, now=NOW)
    if case == "not built":
        StoredCalendar.objects.all().delete()
    headers = {"if-none-match": "*"} if case == "not modified" else {}
    response = (client.post if case == "wrong method" else client.get)(path_of(key), headers=headers)
    expected = {"there": 200, "not modified": 304, "revoked": 404, "not built": 503, "wrong method": 405}
    assert response.status_code == expected[case]
    assert "noindex" in response["X-Robots-Tag"]
    assert response["Referrer-Policy"] == "no-referrer"
    assert response["Cache-Control"] in {"private, no-cache", "no-store"}


def test_a_saved_file_is_not_called_by_the_secret(key: FeedKey, client: Client) -> None:
    assert client.get(path_of(key))["Content-Disposition"] == 'inline; filename="my-duties.ics"'


def test_the_calendar_does_not_hold_its_own_address(key: FeedKey, client: Client) -> None:
    assert key.token not in client.get(path_of(key)).content.decode()


def test_crawlers_are_asked_but_calendars_stay_readable(client: Client, db: None) -> None:
    """Some calendar programs ask robots.txt before they subscribe."""
    response = client.get("/robots.txt")
    assert response["Content-Type"].startswith("text/plain")
    lines = response.content.decode().splitlines()
    assert "Disallow: /office/" in lines
    assert not any(line.startswith("Disallow: /calendars") for line in lines)


def test_an_officers_record_of_a_revocation_names_no_secret(
    key: FeedKey, as_reader: Callable[[str], Client]
) -> None:
    change = reverse("admin:nets_feedkey_change", args=[key.pk])
    page = as_reader("officer").get(change).content.decode()
    as_reader("officer").post(
        change, {"revoked_at_0": "2026-03-03", "revoked_at_1": "12:00:00", "_save": "Save"}
    )
    [entry] = LogEntry.objects.all()
    assert key.token not in page + entry.object_repr + entry.change_message


# In logs -----------------------------------------------------------------------------------------------

SECRET = "Ey3NV3bAkmtz3rDUMv-zt7C1pBsU-KB82A2StXSPv9E"  # invented; fixed, so that every worker names these tests alike
LINES = [
    f"Not Found: /calendars/mine/{SECRET}.ics",
    f'"GET /calendars/mine/{SECRET}.ics HTTP/1.1" 404 25',
    f"Internal Server Error: http://127.0.0.1:8000/calendars/mine/{SECRET}.ics?x=1",
    f"{{'path': '/duties/answer/{SECRET}:1abc:xyz/'}}",
    f"POST /notices/stop/{SECRET}/",
]


@pytest.mark.parametrize("line", LINES)
def test_a_log_line_leaves_the_secret_out(line: str) -> None:
    written = without_secrets(line)
    assert SECRET not in written
    assert "..." in written


def test_a_traceback_leaves_the_secret_out() -> None:
    try:
        raise LookupError(f"/calendars/mine/{SECRET}.ics")
    except LookupError as problem:
        record = logging.LogRecord(
            "x", 40, "", 1, "went wrong", None, (type(problem), problem, problem.__traceback__)
        )
    written = DiscreetFormatter().format(record)
    assert "LookupError" in written
    assert SECRET not in written


def test_other_lines_stay_as_they_are() -> None:
    line = "Not Found: /calendars/nets/ridge-net.ics, /duties/, /my-duties/calendar/"
    assert without_secrets(line) == line


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(tmp_path_factory.mktemp("served")) as server:
        yield server


def token_in(path: str) -> str:
    return path.rsplit("/", 1)[1].removesuffix(".ics")


def test_the_server_as_the_service_starts_it_answers(served: Served) -> None:
    status, headers, body = served.ask(served.paths["member"])
    assert status == "HTTP/1.1 200 OK"
    assert int(headers["content-length"]) == len(body)
    status, _, body = served.ask(served.paths["member"], "GET", f"If-None-Match: {headers['etag']}")
    assert (status, body) == ("HTTP/1.1 304 Not Modified", b"")
    assert served.ask(served.paths["member"], "HEAD")[2] == b""


def test_its_log_names_no_secret_whatever_is_asked(served: Served) -> None:
    live, dead = served.paths["member"], served.paths["revoked"]
    for path in (live, dead, live.replace(".ics", ".ics/"), f"{live}?a=1", live.replace(".ics", "")):
        served.ask(path)
        served.ask(path, "HEAD")
        served.ask(path, "POST")
    for broken in (
        f"GET {live} HTTP/9.9\r\n\r\n",
        f"GET {live} x HTTP/1.1\r\n\r\n",
        f"GET{live} HTTP/1.1\r\n\r\n",
        f"G\x01T {live} HTTP/1.1\r\n\r\n",
        f"GET {live} HTTP/1.1\r\nHost: elsewhere.example\r\nConnection: close\r\n\r\n",
        f"GET {live} HTTP/1.1\r\nHost: 127.0.0.1\r\nBad Header: 1\r\n\r\n",
        f"GET {live}{'x' * 9000} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
    ):
        served.ask_raw(broken.encode())
    assert "/calendars/mine/..." in served.log  # it was written about
    assert token_in(live) not in served.log
    assert token_in(dead) not in served.log


def test_its_log_of_a_fault_names_no_secret(served: Served) -> None:
    with sqlite3.connect(served.folder / "club.sqlite3") as database:
        database.execute("ALTER TABLE nets_storedcalendar RENAME TO elsewhere")
    try:
        status, _, _ = served.ask(served.paths["member"])
    finally:
        with sqlite3.connect(served.folder / "club.sqlite3") as database:
            database.execute("ALTER TABLE elsewhere RENAME TO nets_storedcalendar")
    assert status == "HTTP/1.1 500 Internal Server Error"
    assert "OperationalError" in served.log
    assert token_in(served.paths["member"]) not in served.log
