"""What the page and the site say to each other."""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from nets.checkins import names, rollcall, sync
from nets.models import CheckIn, Session
from tests.conftest import Cast
from tests.log.conftest import BY, ON_AIR, Log, heard_in, minutes

ENTRIES = "/nets/ridge-net/2026-03-03/log/entries/"


def check_in(call_sign: str, **given: Any) -> dict[str, Any]:
    return {
        "do": "check_in",
        "key": str(uuid.uuid4()),
        "call_sign": call_sign,
        "heard_at": ON_AIR.isoformat(),
        **given,
    }


def apply(session: Session, *operations: Any) -> list[dict[str, Any]]:
    return sync.apply(session, operations, by=BY, now=ON_AIR)


@pytest.fixture
def keeper(as_reader: Callable[[str], Client], in_the_chair: object) -> Client:
    """Net control's browser, four minutes into the session by the clock of the test."""
    return as_reader("net control")


@pytest.fixture
def _on_air(monkeypatch: pytest.MonkeyPatch) -> None:
    for view in ("nets.web.log", "nets.web.log_sync", "nets.web.log_import"):
        monkeypatch.setattr(f"{view}.timezone.now", lambda: minutes(4))


def test_a_batch_is_answered_operation_by_operation(session: Session) -> None:
    good, bad = check_in("QZ2MEM"), check_in("")
    results = apply(session, good, bad, check_in("QZ2OFF"))
    assert [result["saved"] for result in results] == [True, False, True]
    assert "no call sign" in results[1]["sentence"]
    assert results[1]["key"] == bad["key"]


def test_a_batch_sent_again_changes_nothing(session: Session) -> None:
    entry = check_in("QZ2MEM")
    batch = [
        entry,
        {"do": "correct", "key": str(uuid.uuid4()), "entry": entry["key"], "changes": {"report": "33"}},
        {"do": "roll_add", "key": str(uuid.uuid4()), "call_sign": "QZ2OFF"},
    ]
    apply(session, *batch)
    before = sync.changes_since(session, 0)
    assert all(result["saved"] for result in apply(session, *batch))
    assert sync.changes_since(session, 0) == before


@pytest.mark.parametrize(
    ("operation", "sentence"),
    [
        ("nonsense", "is an object with a key"),
        ({"key": "7", "do": "check_in"}, "is not a key"),
        ({"key": str(uuid.uuid4()), "do": "dance"}, "nothing that can be done"),
        ({"key": str(uuid.uuid4()), "do": "correct", "entry": str(uuid.uuid4())}, "names the fields"),
        (
            {"key": str(uuid.uuid4()), "do": "correct", "entry": str(uuid.uuid4()), "changes": {}},
            "not in the log",
        ),
    ],
)
def test_a_bad_operation_gets_a_sentence(session: Session, operation: Any, sentence: str) -> None:
    [result] = apply(session, operation)
    assert not result["saved"]
    assert sentence in str(result["sentence"])


def test_only_what_changed_since_is_given(session: Session, log: Log) -> None:
    log("QZ2MEM")
    seen = sync.version(session)
    log("QZ2OFF")
    rollcall.add(session, "QZ2STW", by=BY)
    news = sync.changes_since(session, seen)
    assert [entry["call_sign"] for entry in news["entries"]] == ["QZ2OFF"]
    assert [line["call_sign"] for line in news["roll"]] == ["QZ2STW"]
    assert sync.changes_since(session, news["version"])["entries"] == []


def test_who_has_seen_more_than_there_is_gets_everything(session: Session, log: Log) -> None:
    log("QZ2MEM")
    assert len(sync.changes_since(session, 999)["entries"]) == 1


def test_a_first_time_on_this_net_is_marked(
    session: Session, log: Log, earlier: Callable[[int], Session]
) -> None:
    heard_in(earlier(1), "QZ2MEM")
    log("QZ2MEM")
    log("QX7TAB")
    log("2TA")
    assert [entry["is_new"] for entry in sync.changes_since(session, 0)["entries"]] == [False, True, False]


def test_nothing_new_is_a_304(keeper: Client, session: Session, log: Log) -> None:
    log("QZ2MEM")
    first = keeper.get(ENTRIES)
    assert first.json()["version"] == 1
    again = keeper.get(ENTRIES, {"since": 1}, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_asking_for_news_is_cheap(
    keeper: Client, session: Session, log: Log, django_assert_max_num_queries: Callable[[int], Any]
) -> None:
    """Login, roster entry, roles, session, duties, version: nothing that grows with the log."""
    log("QZ2MEM")
    with django_assert_max_num_queries(8):
        keeper.get(ENTRIES, {"since": 1}, headers={"If-None-Match": '"1"'})


@pytest.mark.usefixtures("_on_air")
def test_a_batch_is_posted_and_answered_with_the_news(keeper: Client, session: Session, log: Log) -> None:
    log("QZ2OFF")
    body = {"operations": [check_in("QZ2MEM")], "since": 0}
    answer = keeper.post(ENTRIES, json.dumps(body), "application/json").json()
    assert [entry["call_sign"] for entry in answer["entries"]] == ["QZ2OFF", "QZ2MEM"]
    assert answer["results"][0]["saved"]
    assert CheckIn.objects.get(call_sign="QZ2MEM").logged_by == "QZ2NCS"


@pytest.mark.parametrize(
    "body", ["", "[]", "{}", '{"operations": 7}', '{"operations": [], "since": "x"}', "null"]
)
def test_a_body_that_is_no_batch_is_told_so(keeper: Client, session: Session, body: str) -> None:
    answer = keeper.post(ENTRIES, body, "application/json")
    assert (answer.status_code, "a batch of entries" in answer.json()["sentence"]) == (400, True)


def test_what_one_login_typed_is_not_taken_from_another(keeper: Client, session: Session, cast: Cast) -> None:
    body = {"operations": [check_in("QZ2MEM")], "from": cast.member.user.pk}
    answer = keeper.post(ENTRIES, json.dumps(body), "application/json")
    assert (answer.status_code, CheckIn.objects.exists()) == (409, False)


def test_too_many_at_once_are_refused_whole(keeper: Client, session: Session) -> None:
    body = json.dumps({"operations": [check_in("QZ2MEM") for _ in range(101)]})
    assert keeper.post(ENTRIES, body, "application/json").status_code == 422
    assert not CheckIn.objects.exists()


def test_a_post_without_its_token_is_refused(session: Session, in_the_chair: object, cast: Cast) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(cast.net_control.user)
    assert strict.post(ENTRIES, "{}", "application/json").status_code == 403


def test_names_are_the_roster_and_earlier_visitors(session: Session, log: Log, cast: Cast) -> None:
    cast.steward.is_active = False
    cast.steward.save()
    log("QX7TAB", name="Tabea", place="Far Dale")
    log("QX7TAB", name="Tabea", place="Near Dale", at=minutes(9))
    log("2TA", name="Half")
    found = {each.call_sign: each for each in names.known()}
    assert found["QX7TAB"].place == "Near Dale"
    assert found["QZ2MEM"].is_member
    assert not {"QZ2STW", "2TA"} & set(found)


def test_names_are_fetched_once(keeper: Client, session: Session) -> None:
    first = keeper.get(reverse("nets:log_names", args=["ridge-net", "2026-03-03"]))
    assert ["QZ2MEM", "Qz2Mem", "", True] in first.json()
    again = keeper.get(first.wsgi_request.path, headers={"If-None-Match": first["ETag"]})
    assert again.status_code == 304
