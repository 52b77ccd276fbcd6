"""A place clicked or typed on the map: margins both ways, sentences for wrong questions, and nothing of it kept."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from clubops.members.models import Station
from relays.models import Relay
from tests.conftest import Cast, make_station
from tests.coverage.test_map_page import HOME, TRACES, text

PLACE = {"place": "35.97134, -83.96187", "radio": "handheld_in_hand", "relay": "slope-2m"}


def test_a_place_gets_both_margins_the_chance_and_the_obstacle(client: Client, hill_relay: Relay) -> None:
    page = text(client.post("/map/point/", PLACE))
    assert re.search(r"You into the relay: [+−]\d+\.\d dB", page)
    assert re.search(r"The relay to you: [+−]\d+\.\d dB", page)
    assert "% chance of a usable signal" in page
    assert "sight line" in page


def test_all_relays_together_are_asked_best_first(
    client: Client, hill_relay: Relay, other_relay: Relay
) -> None:
    page = text(client.post("/map/point/", PLACE | {"relay": "together"}))
    assert "Best first. The weaker direction decides." in page
    assert "Slope 2 m" in page
    assert "Hollow 70 cm" in page


def test_a_what_if_changes_the_answer(client: Client, hill_relay: Relay) -> None:
    def margin(**changes: Any) -> float:
        page = text(client.post("/map/point/", PLACE | changes))
        found = re.search(r"You into the relay: ([+−]\d+\.\d) dB", page)
        assert found
        return float(found.group(1).replace("−", "-"))

    usual = margin()
    assert margin(power_w=50) == pytest.approx(usual + 10, abs=0.11)
    assert margin(gain_db=6) == pytest.approx(usual + 6, abs=0.11)
    assert margin(line_db=2) == pytest.approx(usual - 2, abs=0.11)
    assert margin(grade="clear") == pytest.approx(usual - 7, abs=0.11)
    assert margin(building="traditional") < usual - 10
    assert margin(antenna_height_m=40) > usual
    assert margin(height_m=8) > usual
    hill_relay.refresh_from_db()
    assert hill_relay.antenna_height_m == 18


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"place": ""}, "Say which place"),
        ({"place": "somewhere"}, "neither coordinates nor a locator"),
        ({"place": "95, 10"}, "which runs from -90 to 90"),
        ({"radio": "megaphone"}, "That radio is not one of the list"),
        ({"radio": "station-999999"}, "That radio is not one of the list"),
        ({"radio": "station-x"}, "That radio is not one of the list"),
        ({"relay": "nowhere"}, "That relay is not one of the list"),
        (
            {"height_m": "90000"},
            "“90000” cannot be the height of your antenna; give a number from 1 to 3000 m.",
        ),
        ({"antenna_height_m": "nan"}, "“nan” cannot be the height of the relay’s antenna"),
        ({"power_w": "-1"}, "“-1” cannot be your power; give a number from 0.001 to 2000 W."),
        ({"power_w": "abc"}, "“abc” cannot be your power; give a number from 0.001 to 2000 W."),
        ({"gain_db": "1e9"}, "“1e9” cannot be what a better antenna gains; give a number from -40 to 40 dB."),
        ({"building": "x"}, "“x” is no kind of building; use one of outdoors"),
        ({"grade": "x"}, "“x” is no quality of a signal; use one of "),
        ({"ways": "up"}, "“up” is no way that can count; use one of both, in, out."),
        ({"radio": ""}, "That radio is not one of the list"),
        ({"relay": "r" * 200}, "That relay is not one of the list"),
        ({"place": "-83.96187, 35.97134"}, "Latitude comes first: write the two the other way round."),
    ],
)
def test_a_wrong_question_gets_a_sentence(
    wrong: dict[str, str], words: str, client: Client, hill_relay: Relay
) -> None:
    response = client.post("/map/point/", PLACE | wrong)
    assert response.status_code == 422
    assert words in text(response)


def test_a_place_beyond_the_ground_is_said_without_its_coordinates(client: Client, hill_relay: Relay) -> None:
    page = text(client.post("/map/point/", PLACE | {"place": "35.1111, -83.2222"}))
    assert "leaves the imported terrain" in page
    assert "35.1111" not in page


@pytest.mark.parametrize(("ways", "decides"), [("in", "into the relay"), ("out", "from the relay")])
def test_one_way_alone_is_judged_by_itself(
    ways: str, decides: str, client: Client, hill_relay: Relay
) -> None:
    """With a thousandth of the power the way in fails, and the way out does not change."""
    weak = PLACE | {"power_w": "0.005", "place": "35.985, -83.985"}
    both = text(client.post("/map/point/", weak))
    alone = text(client.post("/map/point/", weak | {"ways": ways}))
    assert "The weaker direction decides." in both
    assert f"Only the way {decides} was asked for." in alone
    chance = re.compile(r"(\d+ %) chance of a usable signal")
    assert chance.findall(alone)
    assert (chance.findall(alone) == chance.findall(both)) is (ways == "in")


def test_a_locator_is_a_square_and_the_answer_says_how_large(client: Client, hill_relay: Relay) -> None:
    answer = client.post("/map/point/", PLACE | {"place": "EM85ax"})
    # By hand: half of 5' and 2.5' at 36 degrees north are 3.75 and 2.31 km, their root of squares 4.4 km.
    assert "A locator names a square: you may be 4.4 km from its middle" in text(answer)
    assert 'name="place" value="EM85ax"' in answer.content.decode()
    assert "A locator names a square" not in text(client.post("/map/point/", PLACE))


@pytest.mark.parametrize("place", ["35.1111, -83.2222", "35.97135, -83.50001"])
def test_no_help_is_offered_where_nothing_can_be_computed(
    place: str, client: Client, hill_relay: Relay
) -> None:
    offers = ("What would help here?", "All relays from here")
    assert any(words in text(client.post("/map/point/", PLACE)) for words in offers)
    page = text(client.post("/map/point/", PLACE | {"place": place}))
    assert "What would help here?" not in page
    assert "All relays from here" not in page


def test_a_place_is_never_part_of_an_address(client: Client, hill_relay: Relay) -> None:
    assert client.get("/map/point/", PLACE).status_code == 405


def test_a_station_of_ones_own_is_a_radio_at_any_place(
    as_reader: Callable[[str], Client], cast: Cast, hill_relay: Relay
) -> None:
    own = make_station(cast.member, HOME, "home_vertical")
    question = PLACE | {"radio": f"station-{own.pk}"}
    assert "your home" in text(as_reader("member").post("/map/point/", question))
    assert as_reader("net control").post("/map/point/", question).status_code == 422
    assert as_reader("outsider").post("/map/point/", question).status_code == 422
    assert Station.objects.get(pk=own.pk).latitude_deg == HOME[0]


def test_the_answer_is_kept_nowhere(
    client: Client, hill_relay: Relay, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(0):
        response = client.post(reverse("relays:point"), PLACE)
    assert "no-store" in response["Cache-Control"]
    assert not any(trace in caplog.text for trace in TRACES)
