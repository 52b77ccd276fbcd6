"""A few people, a kind of notice that says little, and a frozen instant."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from clubops.members.models import Member
from clubops.notices import kinds, wanted
from clubops.notices.kinds import Kind, Letter, Untrue
from clubops.notices.models import Notice
from clubops.notices.policy import Policy

NOW = dt.datetime(2026, 3, 3, 17, 0, tzinfo=dt.UTC)  # noon in New York, far from quiet hours
PLAIN = "test_plain"
SOLITARY = "test_solitary"
POLICY = Policy()


class TestClock:
    """A clock that a test moves by hand."""

    __test__ = False

    def __init__(self, now: dt.datetime = NOW) -> None:
        self.now = now

    def __call__(self) -> dt.datetime:
        return self.now

    def forward(self, **span: float) -> None:
        self.now += dt.timedelta(**span)


@pytest.fixture
def clock() -> TestClock:
    return TestClock()


@pytest.fixture
def member(db: None) -> Callable[..., Member]:
    """Make a member; each has an address and wants reminders unless said otherwise."""
    signs = (f"QZ2{first}{second}" for first, second in itertools.product("ABCDEFGH", repeat=2))

    def make(**given: Any) -> Member:
        sign = given.pop("call_sign", None) or next(signs)
        fields = {"name": f"Member {sign}", "email": f"{sign.lower()}@members.club.example"}
        return Member.objects.create(call_sign=sign, **(fields | {"zone": "America/New_York"} | given))

    return make


@pytest.fixture
def manager(member: Callable[..., Member]) -> Member:
    return member(call_sign="QZ2MGR", name="Manager")


@pytest.fixture
def plain_kind(monkeypatch: pytest.MonkeyPatch, manager: Member) -> Kind:
    """A kind whose letter repeats the title; a title that begins with `untrue` or `broken` is that."""

    def render(notice: Notice, now: dt.datetime) -> Letter:
        if notice.title.startswith("untrue"):
            raise Untrue("It has changed.")
        if notice.title.startswith("broken"):
            raise ZeroDivisionError("a fault in the program")
        return Letter(notice.title, (f"This is about {notice.title}.",), told={"title": notice.title})

    kind = Kind(name=PLAIN, words="plain test notice", render=render, watcher=lambda notice: manager)
    monkeypatch.setitem(kinds._KINDS, PLAIN, kind)
    return kind


@pytest.fixture
def solitary_kind(monkeypatch: pytest.MonkeyPatch, plain_kind: Kind) -> Kind:
    """Like the plain one, but it shares its mail with no other kind."""
    kind = replace(plain_kind, name=SOLITARY, travels_alone=True)
    monkeypatch.setitem(kinds._KINDS, SOLITARY, kind)
    return kind


def wish(recipient: Member, title: str = "the net", **given: Any) -> wanted.Wanted:
    """A wish for a plain notice, due now and good for a day."""
    due_at = given.pop("due_at", NOW)
    fields = {
        "key": f"{PLAIN}/{title}/member:{recipient.pk}",
        "recipient_id": recipient.pk,
        "kind": PLAIN,
        "subject_key": "test:1",
        "title": title,
        "due_at": due_at,
        "not_after": (due_at or NOW) + dt.timedelta(days=1),
    }
    return wanted.Wanted(**(fields | given))


@pytest.fixture
def enter(plain_kind: Kind) -> Callable[..., Notice]:
    """Enter a plain notice for a member in the ledger."""

    def make(recipient: Member, title: str = "the net", **given: Any) -> Notice:
        asked = wish(recipient, title, **given)
        wanted.enqueue(asked, now=NOW)
        return Notice.objects.get(key=asked.key)

    return make
