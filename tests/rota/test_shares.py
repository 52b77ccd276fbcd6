"""Turns are counted against fair shares."""

from __future__ import annotations

import datetime as dt

import pytest

from clubops.clock import Span
from clubops.members.models import Member
from nets import schedule
from nets.models import Duty, Net
from nets.rota import shares
from tests.conftest import NOW
from tests.rota.conftest import give, session_on

pytestmark = pytest.mark.django_db

SPRING = Span(NOW, NOW + dt.timedelta(weeks=8))


def share_of(member: Member) -> shares.Share:
    return next(share for share in shares.shares_in(SPRING) if share.member == member)


def test_net_control_counts_two_and_backup_one(net: Net, volunteers: dict[str, Member]) -> None:
    give(session_on(net, 3, 3), "net_control", volunteers["officer"])
    give(session_on(net, 3, 10), "backup", volunteers["officer"])
    share = share_of(volunteers["officer"])
    assert (share.net_control, share.backup, share.load) == (1, 1, 3)


def test_two_shares_are_fairly_twice_the_load(net: Net, volunteers: dict[str, Member]) -> None:
    Member.objects.filter(pk=volunteers["third"].pk).update(willingness=2)
    for day in (3, 10, 17, 24, 31):
        give(session_on(net, 3, day), "net_control", volunteers["officer"])
    assert share_of(volunteers["third"]).fair_load == pytest.approx(4.0)
    assert share_of(volunteers["officer"]).fair_load == pytest.approx(2.0)


def test_it_says_who_carries_more_and_who_less(net: Net, volunteers: dict[str, Member]) -> None:
    for day in (3, 10, 17):
        give(session_on(net, 3, day), "net_control", volunteers["officer"])
    assert share_of(volunteers["officer"]).words == "more than a fair share"
    assert share_of(volunteers["third"]).words == "less than a fair share"


def test_declined_and_called_off_turns_do_not_count(net: Net, volunteers: dict[str, Member]) -> None:
    give(session_on(net, 3, 3), "net_control", volunteers["officer"], state=Duty.State.DECLINED)
    give(session_on(net, 3, 10), "net_control", volunteers["officer"])
    schedule.call_off(session_on(net, 3, 10), note="Snow.")
    assert share_of(volunteers["officer"]).load == 0


def test_who_no_longer_takes_the_chair_is_counted_and_owed_nothing(
    net: Net, volunteers: dict[str, Member]
) -> None:
    give(session_on(net, 3, 3), "net_control", volunteers["third"])
    Member.objects.filter(pk=volunteers["third"].pk).update(takes_the_chair=False)
    share = share_of(volunteers["third"])
    assert (share.load, share.fair_load) == (2, 0.0)
