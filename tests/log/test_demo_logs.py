"""The demo's quarter of evenings."""

from __future__ import annotations

import datetime as dt

import pytest

from nets import calibration, demo_logs, statistics
from nets.models import CheckIn, Net, Session, SessionLog
from tests.conftest import DEEP_HOLLOW, NOW, OPEN_VALLEY, Cast, make_station

LATER = NOW + dt.timedelta(weeks=10)


@pytest.fixture
def written(net: Net, cast: Cast, ground: object) -> Net:
    """Ten weeks of a net in whose club two stations stand in the open and one in a hollow."""
    make_station(cast.officer, OPEN_VALLEY)
    make_station(cast.net_control, OPEN_VALLEY)
    make_station(cast.member, DEEP_HOLLOW)
    demo_logs.write_up(net, now=LATER)
    return net


def test_every_past_evening_is_logged_but_the_one_called_off(written: Net) -> None:
    states = list(Session.objects.filter(net=written).values_list("state", flat=True))
    assert states.count("cancelled") == 1
    assert states.count("held") == len(states) - 1 == SessionLog.objects.exclude(closed_at=None).count()


def test_writing_it_up_again_changes_nothing(written: Net) -> None:
    before = CheckIn.objects.count()
    assert demo_logs.write_up(written, now=LATER) == 0
    assert CheckIn.objects.count() == before > 0


def test_only_who_is_heard_sits_in_the_chair(written: Net, cast: Cast) -> None:
    chairs = {log.net_control for log in SessionLog.objects.select_related("net_control")}
    assert chairs == {cast.officer, cast.net_control}


def test_its_pages_have_something_to_show(written: Net) -> None:
    assert len(statistics.statistics(written, now=LATER).held) >= 8
    assert calibration.calibration(net=written).compared >= 8
