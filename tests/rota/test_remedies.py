"""What would make a weak path do, found by working the path out again."""

from __future__ import annotations

from copy import copy

import pytest

from clubops.members.models import Member, Station
from nets.models import Net, Session
from nets.rota import remedies
from nets.rota.seating import Seating, Usher
from relays import paths
from tests.conftest import NOW, OPEN_VALLEY, make_station
from tests.rota.conftest import session_on

pytestmark = pytest.mark.django_db


@pytest.fixture
def evening(net: Net, volunteers: dict[str, Member]) -> Session:
    return session_on(net, 3, 3)


# From here the relay is in sight: some 20 dB more than from behind the rise.
IN_SIGHT = (36.5500, -84.1101)


def margin_db(station: Station, net: Net, metres_higher: int = 0) -> float:
    raised = copy(station)
    raised.antenna_height_m += metres_higher
    raised.feedline_length_m += metres_higher
    link = paths.compute(raised, net.relay).link
    return min(link.talk_in.margin_db, link.talk_out.margin_db)


@pytest.fixture
def low(net: Net, volunteers: dict[str, Member]) -> Station:
    """A home station behind a rise, and a net that asks for 1 dB more than it has."""
    volunteers["third"].stations.all().delete()
    station = make_station(volunteers["third"], OPEN_VALLEY)
    Net.objects.filter(pk=net.pk).update(
        minimum_margin_db=margin_db(station, net) + 1.0, minimum_probability=0.0
    )
    net.refresh_from_db()
    return station


def seating(member: Member, evening: Session) -> Seating:
    evening.refresh_from_db()
    return Usher(NOW).seat(member, evening)


def test_it_finds_the_least_height_that_does(low: Station, net: Net) -> None:
    metres = remedies.metres_higher(low, net.relay, net)
    assert metres in remedies.HEIGHTS_M
    assert margin_db(low, net, metres) >= net.minimum_margin_db
    assert margin_db(low, net, metres - 1) < net.minimum_margin_db


def test_the_cable_grows_with_the_mast(low: Station, net: Net) -> None:
    """A cable that loses more than the height wins is no remedy."""
    low.feedline_kind = "rg58"
    low.feedline_length_m = 60.0
    assert margin_db(low, net, 5) < _margin_with_the_same_cable(low, net, 5)


def _margin_with_the_same_cable(station: Station, net: Net, metres: int) -> float:
    raised = copy(station)
    raised.antenna_height_m += metres
    link = paths.compute(raised, net.relay).link
    return min(link.talk_in.margin_db, link.talk_out.margin_db)


def test_it_changes_no_record(low: Station, net: Net) -> None:
    before = (low.antenna_height_m, low.feedline_length_m)
    remedies.metres_higher(low, net.relay, net)
    low.refresh_from_db()
    assert (low.antenna_height_m, low.feedline_length_m) == before


def test_the_sentence_names_the_metres(low: Station, net: Net, evening: Session) -> None:
    metres = remedies.metres_higher(low, net.relay, net)
    assert remedies.remedy(seating(low.member, evening), Usher(NOW)) == (
        f"would be heard well enough with the antenna {metres} m higher"
    )


def test_another_station_of_theirs_comes_first(low: Station, net: Net, evening: Session) -> None:
    make_station(low.member, IN_SIGHT, name="cabin", is_main=False)
    assert remedies.remedy(seating(low.member, evening), Usher(NOW)) == (
        "would be heard well enough from their station “cabin”"
    )


def test_there_is_none_where_fifteen_metres_do_not_help(low: Station, net: Net, evening: Session) -> None:
    Net.objects.update(minimum_margin_db=40.0 + margin_db(low, net))
    net.refresh_from_db()
    assert remedies.metres_higher(low, net.relay, net) is None
    assert remedies.remedy(seating(low.member, evening), Usher(NOW)) == ""


@pytest.mark.parametrize(
    "figures",
    [{"feedline_kind": ""}, {"preset": "mobile"}, {"building": Station.Building.TRADITIONAL}],
)
def test_a_handheld_a_car_and_an_indoor_antenna_are_not_raised(
    low: Station, net: Net, figures: dict[str, str]
) -> None:
    for name, value in figures.items():
        setattr(low, name, value)
    assert remedies.metres_higher(low, net.relay, net) is None


def test_the_bars_of_the_nearest_carry_their_remedies(low: Station, net: Net, evening: Session) -> None:
    bars = remedies.with_remedies([seating(low.member, evening)], Usher(NOW))
    assert bars[0].kind == "path"
    assert "m higher" in bars[0].remedy
