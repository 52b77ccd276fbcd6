"""A home position never leaves the club: not in a page, a feed, a mail, a log line or an error."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from clubops.members.models import Station
from nets import duties, feeds
from nets.models import Duty, Session
from relays import paths
from relays.models import Relay
from tests.conftest import NOW, Cast, make_station

# Digits that occur nowhere else.
LATITUDE, LONGITUDE = 36.57021734, -84.11018273
TRACES = ("36.57", "84.11", "36,57", "84,11")

PUBLIC: list[tuple[str, list[str]]] = [
    ("nets:home", []),
    ("nets:list", []),
    ("nets:page", ["ridge-net"]),
    ("relays:list", []),
    ("relays:page", ["ridge-2m"]),
    ("relays:path", []),
    ("nets:club_feed", []),
    ("nets:net_feed", ["ridge-net"]),
]


@pytest.fixture
def home(cast: Cast, ground: object, session: Session, relay: Relay) -> Station:
    """A member's home that holds a duty, a verdict and a calendar."""
    station = make_station(cast.net_control, (LATITUDE, LONGITUDE))
    duties.assign(duties.Chair(session, Duty.Role.NET_CONTROL, cast.net_control, station), now=NOW)
    feeds.renew(cast.net_control, now=NOW)
    feeds.rebuild_changed(now=NOW)
    paths.refresh(station, relay, now=NOW)
    return station


def holds_a_trace(text: str) -> bool:
    return any(trace in text for trace in TRACES)


@pytest.mark.parametrize("who", ["outsider", "member", "net manager", "steward"])
@pytest.mark.parametrize(("name", "args"), PUBLIC)
def test_no_page_or_feed_shows_it(
    name: str, args: list[str], who: str, home: Station, as_reader: Callable[[str], Client]
) -> None:
    response = as_reader(who).get(reverse(name, args=args))
    assert response.status_code == 200
    assert not holds_a_trace(response.content.decode())


@pytest.mark.parametrize("who", ["member", "net manager", "steward"])
def test_the_session_page_shows_a_verdict_and_no_place(
    who: str, home: Station, as_reader: Callable[[str], Client]
) -> None:
    page = as_reader(who).get(reverse("nets:session", args=["ridge-net", "2026-03-03"])).content.decode()
    assert "QZ2NCS" in page
    assert not holds_a_trace(page)


def test_the_private_calendar_does_not_hold_it_either(home: Station, cast: Cast, client: Client) -> None:
    page = client.get(feeds.member_address(cast.net_control)).content.decode()
    assert "Ridge Net" in page
    assert not holds_a_trace(page)


@pytest.mark.parametrize("who", ["outsider", "member", "net manager", "steward"])
def test_nobody_else_opens_its_path(who: str, home: Station, as_reader: Callable[[str], Client]) -> None:
    response = as_reader(who).get(reverse("relays:path"), {"station": home.pk, "relay": "ridge-2m"})
    assert "To Ridge 2 m" not in response.content.decode()
    assert not holds_a_trace(response.content.decode())


def test_its_owner_and_an_officer_open_its_path(home: Station, as_reader: Callable[[str], Client]) -> None:
    for who in ("net control", "officer"):
        response = as_reader(who).get(reverse("relays:path"), {"station": home.pk, "relay": "ridge-2m"})
        assert "To Ridge 2 m" in response.content.decode()


def test_a_place_typed_in_is_posted_and_not_put_in_an_address(
    client: Client, relay: Relay, ground: object
) -> None:
    place = {"place": f"{LATITUDE}, {LONGITUDE}", "radio": "handheld_in_hand"}
    assert "To Ridge 2 m" in client.post(reverse("relays:path"), place).content.decode()
    assert "To Ridge 2 m" not in client.get(reverse("relays:path"), place).content.decode()


def test_off_the_terrain_the_sentence_names_the_relays_end(
    cast: Cast, ground: object, relay: Relay, caplog: pytest.LogCaptureFixture
) -> None:
    far = make_station(cast.member, (37.91018273, -84.11018273))
    stored = paths.refresh(far, relay, now=NOW)
    assert stored.state == stored.State.NO_ANSWER
    assert "north" in stored.reason
    assert not any(trace in stored.reason + caplog.text for trace in ("37.9", "84.11"))


def test_a_station_in_text_says_no_place(home: Station) -> None:
    assert not holds_a_trace(f"{home} {home!r}")


@pytest.mark.parametrize(("who", "sees"), [("net manager", False), ("steward", True), ("officer", True)])
def test_the_way_to_a_site_is_for_those_who_tend_it(
    who: str, sees: bool, relay: Relay, as_reader: Callable[[str], Client]
) -> None:
    page = as_reader(who).get(reverse("admin:relays_site_change", args=[relay.site_id]))
    assert page.status_code == 200
    assert ("Two gates." in page.content.decode()) == sees


def test_a_steward_can_name_the_steward_of_a_site(
    relay: Relay, cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    """A picker that asks the roster, which is closed to stewards, would stay empty."""
    page = as_reader("steward").get(reverse("admin:relays_site_change", args=[relay.site_id]))
    assert f'<option value="{cast.member.pk}">' in page.content.decode()
