"""What the tests of calendars share."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from time_machine import TimeMachineFixture

from clubops.members.models import Member
from nets import feeds
from nets.models import Duty, FeedKey, Net, Session
from tests.conftest import NOW, Cast

TWELVE_WEEKS = dt.timedelta(weeks=12)


@pytest.fixture(autouse=True)
def _clock_of_the_cast(time_machine: TimeMachineFixture) -> None:
    """Tasks and views read the clock themselves."""
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def give() -> Callable[..., Duty]:
    """Put somebody in a chair, path or no path."""

    def put(session: Session, member: Member, role: str = Duty.Role.NET_CONTROL) -> Duty:
        session.duties.filter(role=role).delete()
        return Duty.objects.create(session=session, role=role, member=member)

    return put


@pytest.fixture
def key(session: Session, cast: Cast) -> FeedKey:
    """The private calendar of net control."""
    return feeds.renew(cast.net_control, now=NOW)


@pytest.fixture
def built(net: Net, session: Session) -> Net:
    """The net of the cast with its calendars on the shelf."""
    feeds.rebuild_changed(now=NOW)
    return net
