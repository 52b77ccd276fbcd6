"""What somebody new to the air is told: channels, evenings, how far sight reaches."""

import datetime as dt
from decimal import Decimal

import pytest

from nets import schedule, starter
from nets.models import Net, Session
from relays.models import Relay
from tests.conftest import make_station


def test_a_relay_stands_on_the_card_with_offset_tone_and_nets(net):
    (channel,) = starter.channels()
    assert (channel.number, channel.name, channel.access) == (1, "Ridge 2 m", "tone 103.5 Hz")
    assert channel.offset_mhz == Decimal("-0.600")
    assert channel.nets == (net,)


def test_a_simplex_net_has_a_channel_of_its_own_after_the_relays(net):
    Net.objects.create(
        name="Valley Net",
        slug="valley-net",
        simplex_mhz=Decimal("146.520"),
        first_date=dt.date(2026, 2, 10),
        start_time=dt.time(20),
    )
    assert [(each.number, each.name) for each in starter.channels()] == [(1, "Ridge 2 m"), (2, "Simplex")]


def test_a_planned_relay_is_not_on_the_card_and_a_silent_one_says_so(relay):
    Relay.objects.update(status=Relay.Status.PLANNED)
    assert starter.channels() == []
    Relay.objects.update(status=Relay.Status.OFF_AIR)
    assert starter.channels()[0].is_silent


def test_the_next_evening_is_one_that_takes_place(session, now):
    schedule.plan_sessions(session.net, now=now)
    Session.objects.filter(pk=session.pk).update(state=Session.State.CANCELLED)
    (seat,) = starter.first_evenings(now=now)
    assert seat.session.occurrence_date == dt.date(2026, 3, 10)


def test_sight_from_hand_to_hand_ends_at_ten_kilometres():
    """By hand: the root of 2 x 4/3 x 6371 km x 1 m is 4.12 km; 2 x 4.12 x sqrt(1.5) = 10.1 km."""
    assert starter.sight().to_another_km == pytest.approx(2 * 4.12 * 1.5**0.5, rel=2e-3)
    assert starter.sight().to_the_hill_km == pytest.approx(4.12 * (300**0.5 + 1.5**0.5), rel=2e-3)


def test_twice_the_power_is_three_decibels():
    """10 lg 2 = 3.01 dB."""
    assert starter.twice_the_power_db() == pytest.approx(3.01, abs=0.005)


def test_a_member_sees_which_relays_hear_them(as_reader, cast, relay):
    make_station(cast.member)
    page = as_reader("member").get("/start/").content.decode()
    assert "From your home" in page
    assert "not worked out" in page


def test_the_public_page_shows_no_station(as_reader, cast, relay):
    make_station(cast.member)
    page = as_reader("outsider").get("/start/").content.decode()
    assert "From your" not in page
    assert "QZ2MEM" not in page


@pytest.mark.parametrize("address", ["/start/", "/start/card/"])
def test_a_club_without_relays_is_told_so(db, client, address):
    assert "No relay has been entered yet" in client.get(address).content.decode()
