"""My duties: taking back a no, and from which station."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clubops.members.models import Station
from nets import duties, swaps
from nets.models import Duty, Session
from relays.models import TerrainTile
from tests.conftest import DEEP_HOLLOW, NOW, OPEN_VALLEY, Cast, make_member, make_station

CONTROL = Duty.Role.NET_CONTROL


@pytest.fixture(autouse=True)
def tuesday() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def home(cast: Cast, ground: TerrainTile) -> Station:
    return make_station(cast.net_control)


@pytest.fixture
def cabin(cast: Cast, home: Station) -> Station:
    place = (OPEN_VALLEY[0] + 0.001, OPEN_VALLEY[1])
    return make_station(cast.net_control, place, name="cabin", is_main=False)


@pytest.fixture
def duty(session: Session, cast: Cast, home: Station) -> Duty:
    chair = duties.Chair(session, CONTROL, cast.net_control, home)
    return duties.assign(chair, now=NOW)


@pytest.fixture
def browser(as_reader: Callable[[str], Client]) -> Client:
    return as_reader("net control")


def page(browser: Client) -> str:
    return browser.get(reverse("nets:my_duties")).content.decode()


def choose(browser: Client, duty: Duty, station: Station) -> tuple[int, str]:
    address = reverse("nets:duty_station", args=[duty.pk])
    response = browser.post(address, {"station": station.pk}, follow=True)
    return response.status_code, response.content.decode()


def test_a_no_can_be_taken_back(browser: Client, duty: Duty) -> None:
    duties.answer(duty, confirmed=False, now=NOW)
    assert "I can after all" in page(browser)
    browser.post(reverse("nets:answer", args=[duty.pk]), {"answer": "yes"})
    assert "I can after all" not in page(browser)
    assert Duty.objects.get().state == Duty.State.CONFIRMED


def test_there_is_nothing_to_take_back_once_somebody_else_sits_there(
    browser: Client, duty: Duty, session: Session, cast: Cast
) -> None:
    duties.answer(duty, confirmed=False, now=NOW)
    make_station(cast.officer)
    duties.assign(duties.Chair(session, CONTROL, cast.officer, cast.officer.stations.get()), now=NOW)
    assert "I can after all" not in page(browser)


def test_nor_when_the_session_has_begun(browser: Client, duty: Duty, session: Session) -> None:
    duties.answer(duty, confirmed=False, now=NOW)
    with time_machine.travel(session.starts_at + dt.timedelta(minutes=1), tick=False):
        assert "I can after all" not in page(browser)


def test_somebody_says_from_where_they_will_be_on_the_air(
    browser: Client, duty: Duty, cabin: Station
) -> None:
    duties.answer(duty, confirmed=True, now=NOW)
    assert "Use this station" in page(browser)
    assert "Noted: from cabin that evening." in choose(browser, duty, cabin)[1]
    row = Duty.objects.get()
    assert (row.station, row.state) == (cabin, Duty.State.CONFIRMED)


def test_a_station_the_relay_does_not_hear_is_refused(browser: Client, duty: Duty, cast: Cast) -> None:
    hollow = make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors", name="hollow", is_main=False)
    assert "cannot be put in the chair" in choose(browser, duty, hollow)[1]
    assert Duty.objects.get().station != hollow


def test_somebody_elses_station_is_not_there_to_choose(browser: Client, duty: Duty, cast: Cast) -> None:
    assert choose(browser, duty, make_station(cast.officer))[0] == 404


@pytest.mark.parametrize("who", ["outsider", "member", "net manager", "officer"])
def test_only_the_holder_chooses(
    who: str, duty: Duty, home: Station, cabin: Station, as_reader: Callable[[str], Client]
) -> None:
    choose(as_reader(who), duty, cabin)
    assert Duty.objects.get().station == home


def test_a_station_cannot_be_chosen_for_a_turn_that_was_passed_on(
    duty: Duty, cabin: Station, session: Session, cast: Cast
) -> None:
    make_station(cast.officer)
    duties.assign(duties.Chair(session, CONTROL, cast.officer, cast.officer.stations.get()), now=NOW)
    with pytest.raises(duties.DutyRefused, match="no longer yours"):
        duties.use_station(duty, cabin, now=NOW)
    assert session.duties.get().member == cast.officer


def test_one_station_is_no_choice(browser: Client, duty: Duty) -> None:
    assert "Use this station" not in page(browser)


def test_a_turn_is_taken_from_the_station_that_is_named(
    browser: Client, session: Session, cast: Cast, cabin: Station
) -> None:
    giver = make_member("QZ2GIV", takes_the_chair=True)
    give = duties.Chair(session, CONTROL, giver, make_station(giver))
    offer = swaps.offer(duties.assign(give, now=NOW), now=NOW)
    assert "cabin" in browser.get(reverse("nets:swaps")).content.decode()
    given = {"answer": "accept", "station": str(cabin.pk)}
    browser.post(reverse("nets:swap_settle", args=[offer.pk]), given)
    assert (session.duties.get().member, session.duties.get().station) == (cast.net_control, cabin)
