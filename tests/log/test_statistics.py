"""What the logs of a net add up to."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from clubops.members.models import Member
from nets import charts, schedule, statistics
from nets.models import Duty, Net, Session, SessionLog
from tests.conftest import Cast
from tests.log.conftest import ON_AIR, heard_in

LATER = ON_AIR + dt.timedelta(days=1)


@pytest.fixture
def history(earlier: Callable[[int], Session], cast: Cast) -> None:
    """Six weeks: the member only in the first, one week called off, a visitor twice."""
    heard_in(earlier(6), "QZ2OFF", "QZ2MEM", "QZ2MGR")
    heard_in(earlier(5), "QZ2OFF", "QX7TAB", "QX7TAB")
    schedule.call_off(earlier(4), note="Ice.")
    heard_in(earlier(3), "QZ2OFF", "QZ2STW", "QZ2NCS")
    heard_in(earlier(2), "QZ2OFF", "QX7TAB")
    heard_in(earlier(1), "QZ2OFF", "QZ2STW", "QZ2MGR")


def chair(weeks: int, cast: Cast, who: str) -> None:
    date = dt.date(2026, 3, 3) - dt.timedelta(weeks=weeks)
    SessionLog.objects.filter(session__occurrence_date=date).update(net_control=getattr(cast, who))


def test_attendance_counts_stations_visitors_and_first_times(net: Net, history: None) -> None:
    found = statistics.statistics(net, now=LATER).attendance
    assert [(each.stations, each.visitors, each.new, each.is_called_off) for each in found] == [
        (3, 0, 3, False), (2, 1, 1, False), (0, 0, 0, True), (3, 0, 2, False), (2, 1, 0, False), (3, 0, 0, False),
    ]  # fmt: skip


def test_a_session_called_off_lowers_no_average(net: Net, history: None) -> None:
    found = statistics.statistics(net, now=LATER)
    assert found.mean_stations == pytest.approx(13 / 5)
    assert found.most is not None
    assert found.most.stations == 3


def test_first_times_are_counted_from_the_very_first_session(net: Net, history: None) -> None:
    [last] = statistics.statistics(net, now=LATER, sessions=1).attendance
    assert last.new == 0


def test_who_was_silent_for_four_sessions_is_missed(net: Net, history: None, cast: Cast) -> None:
    found = statistics.statistics(net, now=LATER)
    assert [
        (each.member, each.last_heard_on, each.sessions_since, each.heard_before) for each in found.missed
    ] == [(cast.member, dt.date(2026, 1, 20), 4, 1)]


def test_who_was_never_heard_is_named_apart(net: Net, history: None, cast: Cast) -> None:
    other = Member.objects.create(call_sign="QZ2SIL", name="Sil")
    assert statistics.statistics(net, now=LATER).never_heard == (other,)


def test_turns_stand_beside_fair_shares(net: Net, history: None, cast: Cast) -> None:
    """Three volunteers, the manager with two shares of four: of four turns 1, 2 and 1."""
    cast.manager.willingness = 2
    cast.manager.save()
    for weeks, who in [(6, "officer"), (5, "officer"), (3, "officer"), (2, "manager")]:
        chair(weeks, cast, who)
    found = {each.member.call_sign: each for each in statistics.statistics(net, now=LATER).turns}
    assert {name: (each.net_control, each.fair_share) for name, each in found.items()} == {
        "QZ2OFF": (3, 1.0), "QZ2MGR": (1, 2.0), "QZ2NCS": (0, 1.0),
    }  # fmt: skip
    assert found["QZ2OFF"].over == 2


def test_without_a_log_the_rota_says_who_ran_it(net: Net, history: None, cast: Cast) -> None:
    for session in net.sessions.filter(occurrence_date__lt=dt.date(2026, 3, 3)):
        Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.officer)
    chair(1, cast, "net_control")
    turns = {each.member.call_sign: each.net_control for each in statistics.statistics(net, now=LATER).turns}
    assert turns == {"QZ2OFF": 4, "QZ2NCS": 1, "QZ2MGR": 0}


def test_a_turn_without_volunteering_has_no_share(net: Net, history: None, cast: Cast) -> None:
    chair(1, cast, "member")
    found = {each.member.call_sign: each for each in statistics.statistics(net, now=LATER).turns}
    assert (found["QZ2MEM"].net_control, found["QZ2MEM"].fair_share) == (1, 0.0)


def test_fair_shares_add_up_to_the_turns(net: Net, history: None, cast: Cast) -> None:
    chair(1, cast, "officer")
    chair(2, cast, "manager")
    found = statistics.statistics(net, now=LATER)
    assert sum(each.fair_share for each in found.turns) == pytest.approx(found.turns_taken)


def test_a_net_that_never_met_gives_nothing(net: Net) -> None:
    found = statistics.statistics(net, now=LATER)
    assert (found.attendance, found.mean_stations, found.most) == ((), None, None)


def test_the_chart_stands_on_its_base_and_keeps_the_counts(net: Net, history: None) -> None:
    found = statistics.statistics(net, now=LATER).attendance
    drawn = charts.attendance_chart(found)
    a_station = drawn.columns[0].members_height / 3
    for column, each in zip(drawn.columns, found, strict=True):
        assert column.members_height == pytest.approx(each.members * a_station)
        assert column.members_y + column.members_height == pytest.approx(drawn.base)
        assert column.visitors_y + column.visitors_height == pytest.approx(column.members_y)


def test_bars_are_as_long_as_their_turns(net: Net, history: None, cast: Cast) -> None:
    for weeks in (6, 5, 3):
        chair(weeks, cast, "officer")
    chair(2, cast, "manager")
    drawn = charts.turns_chart(statistics.statistics(net, now=LATER).turns)
    assert drawn.bars[0].length == pytest.approx(3 * drawn.bars[1].length)
    share = drawn.bars[0].share_x - drawn.left
    assert share == pytest.approx(drawn.bars[1].length * 4 / 3)


@pytest.mark.parametrize(
    ("highest", "steps"),
    [(0, [0, 1]), (3, [0, 1, 2, 3]), (7, [0, 2, 4, 6, 8]), (43, [0, 10, 20, 30, 40, 50])],
)
def test_scales_are_whole_numbers_from_nought(highest: int, steps: list[int]) -> None:
    assert charts._whole_steps(highest) == steps
