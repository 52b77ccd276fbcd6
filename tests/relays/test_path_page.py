"""The path check: from a station or a place, opened to show why, kind to bad input."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from clubops.members.models import Station
from relays import paths, terminals
from relays.models import Relay
from relays.places import PlaceError, read_place
from tests.conftest import DEEP_HOLLOW, Cast, make_station

Browser = Callable[[str], Client]
MINUS = "\N{MINUS SIGN}"


def ask(client: Client, place: str, **more: object) -> str:
    data = {"place": place, "radio": "handheld_in_hand"} | more
    return client.post(reverse("relays:path"), data).content.decode().replace("\xa0", " ")


def test_it_answers_with_both_directions_and_a_chance(relay: Relay, ground: object, client: Client) -> None:
    page = ask(client, "36.5702, -84.1101")
    assert "You to relay" in page
    assert "Relay to you" in page
    assert re.search(r"\d+ %|over 99 %", page)


def test_the_page_says_what_the_calculation_says(relay: Relay, ground: object, client: Client) -> None:
    latitude_deg, longitude_deg = DEEP_HOLLOW
    usual = terminals.fields_from_preset("handheld_in_hand", 146.13)
    place = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg}
    link = paths.compute(Station(preset="handheld_in_hand", **place, **usual), relay).link
    shown = f"{link.talk_in.margin_db:+.1f} dB".replace("-", MINUS)
    assert shown in ask(client, f"{latitude_deg}, {longitude_deg}")


def test_the_printed_budget_adds_up_by_hand(relay: Relay, ground: object, client: Client) -> None:
    """Add the lines of the page itself: what a reader with a pencil would do."""
    page = ask(client, "36.5702, -84.1101").replace(MINUS, "-")
    table = page.split("You into the relay on")[1].split("</table>")[0]
    numbers = [float(n) for n in re.findall(r'class="num">([-+]\d+\.\d\d) dB', table)]
    received_at = next(i for i in range(1, len(numbers)) if abs(sum(numbers[:i]) - numbers[i]) < 0.005)
    needed, margin = numbers[-2], numbers[-1]
    assert sum(numbers[received_at + 1 : -2]) == pytest.approx(needed, abs=0.005)
    assert numbers[received_at] - needed == pytest.approx(margin, abs=0.005)


def test_every_figure_of_a_typical_radio_says_where_it_comes_from(
    relay: Relay, ground: object, client: Client
) -> None:
    page = ask(client, "36.5702, -84.1101")
    rows = re.findall(r'<th scope="row">(.*?)</th>', page, flags=re.DOTALL)
    of_the_radio = [row for row in rows if "your radio" in row]
    # Power, gain and body there; body, gain and sensitivity back; houses both ways.
    assert len(of_the_radio) == 8
    assert sum("Surroundings, your radio" in row and "among houses" in row for row in of_the_radio) == 2
    assert not [row for row in of_the_radio if "as entered" in row]


def test_it_says_what_the_loss_was_worked_out_with(
    relay: Relay, ground: object, client: Client, settings: Any
) -> None:
    page = " ".join(ask(client, "36.5702, -84.1101").split())
    steps = float(re.search(r"Ground sampled every ([\d.]+) m,", page)[1])
    assert 40 < steps <= settings.PATH_SPACING_M
    assert "none known, 0 m everywhere" in page
    assert "falls by 45 N-units a kilometre from 325 at sea level, so the Earth counts as 1.40 times" in page
    settings.PATH_CLUTTER_M = 8.0
    assert "up to 8 m high on this path" in ask(client, "36.5702, -84.1101")


def test_it_says_which_way_decides(relay: Relay, ground: object, client: Client) -> None:
    assert "The way into the relay is the weaker and decides." in ask(client, "36.5702, -84.1101")
    Relay.objects.update(power_w=0.1)
    assert "The way from the relay is the weaker and decides." in ask(client, "36.5702, -84.1101")


def test_a_taller_antenna_buys_a_little_even_in_a_hollow(
    relay: Relay, ground: object, client: Client
) -> None:
    def margin(**more: object) -> float:
        page = ask(client, "36.6927, -84.3685", **more)
        return float(re.search(r"You into the relay: ([+\u2212]\d+\.\d) dB", page)[1].replace(MINUS, "-"))

    assert margin(antenna_height_m=30) > margin()


def test_the_drawing_has_a_text_alternative(relay: Relay, ground: object, client: Client) -> None:
    page = ask(client, "36.6927, -84.3685")
    assert 'role="img"' in page
    assert "The drawing in words" in page
    assert "above the sight line and blocks it" in page


def test_a_locator_says_how_rough_it_is(relay: Relay, ground: object, client: Client) -> None:
    assert "A locator names a square" in ask(client, "EM76wn")


def test_a_member_asks_from_their_own_station(
    relay: Relay, ground: object, cast: Cast, as_reader: Browser
) -> None:
    station = make_station(cast.member)
    page = as_reader("member").get(reverse("relays:path"), {"station": station.pk}).content.decode()
    assert "To Ridge 2 m" in page


BAD_PLACES = {
    "": "Say where you are",
    "somewhere nice": "neither coordinates nor a locator",
    "95.0, -84.1": "a latitude, which runs from -90 to 90",
    "36.5": "neither coordinates nor a locator",
    "36.5, -84.1, 300": "neither coordinates nor a locator",
}


@pytest.mark.parametrize("place", BAD_PLACES)
def test_a_wrong_place_gets_a_sentence_and_stays_in_the_form(
    place: str, relay: Relay, client: Client
) -> None:
    page = ask(client, place)
    assert BAD_PLACES[place] in page
    assert f'value="{place}"' in page or not place


@pytest.mark.parametrize(("height", "sentence"), [("0.2", "give at least 1"), ("9000", "give at most 3000")])
def test_an_absurd_height_gets_a_sentence(height: str, sentence: str, relay: Relay, client: Client) -> None:
    assert sentence in ask(client, "36.57, -84.11", antenna_height_m=height)


def test_off_the_terrain_it_says_where_the_ground_ends(relay: Relay, ground: object, client: Client) -> None:
    page = ask(client, "37.5, -84.2")
    assert "not worked out" in page
    assert re.search(r"leaves the imported terrain \d+\.\d km north of the relay", page)


def test_without_any_terrain_it_says_who_can_help(relay: Relay, client: Client) -> None:
    assert "No terrain has been imported yet" in ask(client, "36.57, -84.11")


def test_without_any_relay_the_page_still_opens(client: Client, db: None) -> None:
    assert "Where are you?" in ask(client, "36.57, -84.11")


@pytest.mark.parametrize(
    "text",
    [
        "36.59, -84.13",
        "36.59 -84.13",
        "36.59;-84.13",
        f"36.59, {MINUS}84.13",
        "36.59°, -84.13°",
        " 36.59,-84.13 ",
    ],
)
def test_coordinates_are_read_as_people_write_them(text: str) -> None:
    place = read_place(text)
    assert (place.latitude_deg, place.longitude_deg) == (36.59, -84.13)


def test_a_place_error_never_repeats_coordinates() -> None:
    with pytest.raises(PlaceError) as refused:
        read_place("95.123456, -84.111111")
    assert "95.123456" not in str(refused.value)
