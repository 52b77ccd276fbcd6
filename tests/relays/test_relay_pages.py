"""The relays' pages: what a newcomer sets, what only stewards see, what a member learns of their own path."""

from decimal import Decimal

import pytest

from clubops.members.models import Station
from relays import paths
from relays.models import Relay
from tests.conftest import make_station

LIST = "/relays/"
PAGE = "/relays/ridge-2m/"


def text(response):
    assert response.status_code == 200
    return response.content.decode().replace("\N{NO-BREAK SPACE}", " ")


def test_the_list_gives_what_to_set_on_a_radio(client, relay):
    page = text(client.get(LIST))
    assert "146.730 MHz" in page
    assert "−0.600 MHz" in page
    assert "tone 103.5 Hz" in page
    assert "on the air" in page


def test_the_list_says_so_when_there_is_no_relay(client, db):
    assert "No relay has been entered yet" in text(client.get(LIST))


def test_a_code_takes_the_place_of_a_tone(client, relay):
    Relay.objects.update(access_tone_hz=None, access_code="023")
    assert "code 023" in text(client.get(LIST))
    assert "DCS" in text(client.get(PAGE))


def test_a_relay_without_tone_or_code_is_open(client, relay):
    Relay.objects.update(access_tone_hz=None)
    assert "no tone, no code" in text(client.get(PAGE))


def test_the_page_says_on_what_frequency_the_radio_will_send(client, relay):
    assert "so your radio sends on 146.130 MHz" in text(client.get(PAGE))


def test_an_offset_above_the_output_carries_its_plus(client, relay):
    Relay.objects.update(output_mhz=Decimal("444.325"), input_mhz=Decimal("449.325"))
    assert "+5.000 MHz" in text(client.get(PAGE))


def test_a_relay_off_the_air_says_so_with_the_reason(client, relay):
    Relay.objects.update(status=Relay.Status.OFF_AIR, status_note="Lightning on Sunday.")
    page = text(client.get(PAGE))
    assert "off the air" in page
    assert "Lightning on Sunday." in page


def test_the_page_names_the_nets_that_meet_there(client, net):
    assert "Ridge Net" in text(client.get(PAGE))


def test_a_net_that_has_ended_is_not_named(client, net):
    net.is_active = False
    net.save()
    assert "Ridge Net" not in text(client.get(PAGE))


def test_a_relay_that_does_not_exist_is_answered_with_a_page(client, db):
    response = client.get("/relays/nowhere/")
    assert response.status_code == 404
    assert "Nothing is written on this page" in response.content.decode()


def test_hazards_are_seen_by_everybody(client, relay):
    relay.site.hazards = "Power line along the north side."
    relay.site.save()
    assert "Power line along the north side." in text(client.get(PAGE))


@pytest.mark.parametrize(
    ("who", "sees"),
    [
        ("outsider", False),
        ("member", False),
        ("net control", False),
        ("net manager", False),
        ("steward", True),
        ("officer", True),
    ],
)
def test_how_to_get_in_is_seen_by_stewards_and_officers_only(as_reader, relay, who, sees):
    assert ("Two gates." in text(as_reader(who).get(PAGE))) == sees


def test_an_outsider_is_told_nothing_of_anybodys_path(as_reader, cast, relay):
    make_station(cast.member)
    assert "From your home" not in text(as_reader("outsider").get(PAGE))


def test_a_member_sees_their_own_verdict_and_both_margins(as_reader, cast, relay, ground, now):
    verdict = paths.refresh(make_station(cast.member), relay, now=now)
    page = text(as_reader("member").get(PAGE))
    assert "verdict-solid" in page
    for margin_db in (verdict.talk_in_margin_db, verdict.talk_out_margin_db):
        assert f"{margin_db:+.1f} dB" in page


def test_a_verdict_whose_station_moved_is_not_shown_as_fresh(as_reader, cast, relay, ground, now):
    station = make_station(cast.member)
    paths.refresh(station, relay, now=now)
    Station.objects.filter(pk=station.pk).update(antenna_height_m=2.5)
    page = text(as_reader("member").get(PAGE))
    assert "out of date" in page
    assert "verdict-solid" not in page


def test_a_path_that_was_never_worked_out_says_so(as_reader, cast, relay, ground):
    make_station(cast.member)
    assert "not worked out" in text(as_reader("member").get(LIST))


def test_one_members_verdict_is_not_shown_to_another(as_reader, cast, relay, ground, now):
    paths.refresh(make_station(cast.member), relay, now=now)
    assert "From your" not in text(as_reader("net control").get(PAGE))


@pytest.mark.parametrize("address", [LIST, PAGE])
def test_the_pages_are_read_only(client, relay, address):
    assert client.post(address).status_code == 405
