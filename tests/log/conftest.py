"""A session on the air, and hands to write in its log."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable
from typing import Any

import pytest

from nets.checkins import entries, keeping
from nets.models import CheckIn, Duty, Net, Session, SessionLog
from tests.conftest import Cast

# Two minutes into tonight's session: 2026-03-04 00:32 UTC, 19:32 in New York.
ON_AIR = dt.datetime(2026, 3, 4, 0, 32, tzinfo=dt.UTC)
BY = "QZ2NCS"

Log = Callable[..., CheckIn]


def minutes(count: float) -> dt.datetime:
    """That long after the session began."""
    return ON_AIR + dt.timedelta(minutes=count - 2)


@pytest.fixture
def log(session: Session) -> Log:
    """`log("QZ2AAA", report="59", at=minutes(5))` writes a check-in and gives it."""

    def write(call_sign: str, *, at: dt.datetime = ON_AIR, into: Session = session, **given: Any) -> CheckIn:
        key = given.pop("key", uuid.uuid4())
        fields = {"call_sign": call_sign, "heard_at": at.isoformat(), **given}
        return entries.record(into, fields, key=key, by=BY, now=at)

    return write


@pytest.fixture
def opened(session: Session, cast: Cast) -> SessionLog:
    return keeping.open_log(session, by=BY, now=ON_AIR, net_control=cast.net_control)


@pytest.fixture
def closed(session: Session, opened: SessionLog) -> Callable[[], SessionLog]:
    return lambda: keeping.close_log(session, by=BY, now=minutes(45))


@pytest.fixture
def in_the_chair(session: Session, cast: Cast) -> Duty:
    return Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)


@pytest.fixture
def earlier(net: Net) -> Callable[[int], Session]:
    """The session so many weeks before tonight's."""

    def past(weeks: int) -> Session:
        start = ON_AIR - dt.timedelta(weeks=weeks, minutes=2)
        date = dt.date(2026, 3, 3) - dt.timedelta(weeks=weeks)
        return Session.objects.create(
            net=net, occurrence_date=date, starts_at=start, ends_at=start + dt.timedelta(hours=1)
        )

    return past


def heard_in(session: Session, *call_signs: str, by: str = BY) -> None:
    """Log these stations a minute apart in some session, and close it."""
    for index, call_sign in enumerate(call_signs):
        at = session.starts_at + dt.timedelta(minutes=index + 1)
        given = {"call_sign": call_sign, "heard_at": at.isoformat()}
        entries.record(session, given, key=uuid.uuid4(), by=by, now=at)
    keeping.close_log(session, by=by, now=session.ends_at)
