"""A club with a rota to make: a net on real ground, four people the relay hears and one it does not."""

from __future__ import annotations

import datetime as dt

import pytest

from clubops.members.models import Member
from nets import schedule
from nets.models import Duty, Net, Session
from relays.models import TerrainTile
from tests.conftest import DEEP_HOLLOW, NOW, OPEN_VALLEY, Cast, make_member, make_station


@pytest.fixture
def volunteers(net: Net, cast: Cast, ground: TerrainTile) -> dict[str, Member]:
    """The officer, the net control and two more, all heard; the newcomer is the fourth of them."""
    people = {"officer": cast.officer, "control": cast.net_control}
    people["third"] = make_member("QZ2TRD", takes_the_chair=True, is_experienced=True)
    people["newcomer"] = make_member("QZ2NEW", takes_the_chair=True)
    for index, member in enumerate(people.values()):
        make_station(member, (OPEN_VALLEY[0] + index / 1000, OPEN_VALLEY[1]))
    Member.objects.filter(pk=cast.manager.pk).update(takes_the_chair=False)
    schedule.plan_sessions(net, now=NOW)
    return people


@pytest.fixture
def unheard(volunteers: dict[str, Member]) -> Member:
    """Somebody who takes the chair from where the relay does not hear them."""
    member = make_member("QZ2LOW", takes_the_chair=True, is_experienced=True)
    make_station(member, DEEP_HOLLOW, "handheld_in_hand")
    return member


def session_on(net: Net, month: int, day: int) -> Session:
    return net.sessions.get(occurrence_date=dt.date(2026, month, day))


def give(session: Session, role: str, member: Member, **fields: object) -> Duty:
    """A duty as it stands in the records, however it came there."""
    return Duty.objects.create(
        session=session, role=role, member=member, station=member.stations.first(), **fields
    )


def held(net: Net) -> dict[tuple[dt.date, str], str]:
    """Who holds which chair of the net."""
    rows = Duty.objects.filter(session__net=net).select_related("session", "member")
    return {(duty.session.occurrence_date, duty.role): duty.member.call_sign for duty in rows}
