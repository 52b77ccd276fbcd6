"""What the trade says of range, computed by the model: common practice, no source, unless a test says else.

The paths are idealised shapes, sampled every 50 m; docs/propagation.md shows the same figures in a table,
and the last tests here compare that table with what is computed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from relays.propagation.doubts import doubts
from relays.propagation.link import TwoWayLink, direction, power_change_db, two_way
from relays.propagation.p1812 import Prediction, predict, sigma_location_db
from relays.propagation.presets import PRESETS
from relays.propagation.verdicts import spoken_probability

FREQUENCY_MHZ = 146.0
SPACING_KM = 0.05
HAND_M = 1.5
SQUARE_M = 100.0
# Practice speaks of "about"; a decibel is what an operator would still call the same.
ONE_DB = 1.0
DOCUMENT = Path(__file__).parents[2] / "docs" / "propagation.md"

Shape = Callable[[npt.NDArray[np.float64]], npt.NDArray[np.float64]]


@dataclass(frozen=True)
class Trial:
    """One path of the table: ground by distance, antenna heights, what practice says of its loss."""

    name: str
    length_km: float
    ground: Shape
    first_m: float
    second_m: float
    said_db: float | None
    clutter_m: float = 0.0
    ends: tuple[str, str] = ("handheld_in_hand", "handheld_in_hand")

    def predict(self) -> Prediction:
        distance_km = np.linspace(0.0, self.length_km, round(self.length_km / SPACING_KM) + 1)
        return predict(
            frequency_ghz=FREQUENCY_MHZ / 1000,
            time_percent=50.0,
            distance_km=distance_km,
            ground_m=self.ground(distance_km),
            clutter_m=self.clutter_m,
            zone=4,
            tx_height_m=self.first_m,
            rx_height_m=self.second_m,
            polarization="vertical",
            tx_latitude_deg=45.0,
            tx_longitude_deg=0.0,
            rx_latitude_deg=45.0,
            rx_longitude_deg=0.5,
        )

    def loss_db(self) -> float:
        return self.predict().loss_db

    def link(self) -> TwoWayLink:
        station, relay = (PRESETS[key].terminal(FREQUENCY_MHZ, noise_class="rural") for key in self.ends)
        loss_db = self.loss_db()
        return two_way(
            station,
            relay,
            frequency_in_mhz=FREQUENCY_MHZ,
            frequency_out_mhz=FREQUENCY_MHZ,
            loss_in_db=loss_db,
            loss_out_db=loss_db,
            location_sigma_db=sigma_location_db(FREQUENCY_MHZ / 1000, SQUARE_M, HAND_M, self.clutter_m),
        )


def flat(distance_km: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return np.zeros_like(distance_km)


def straight_hill(distance_km: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """200 m at 0.8 km, rising evenly from one end and falling evenly to the other."""
    return 200.0 * (1 - np.abs(distance_km / 0.8 - 1))


def bell(height_m: float, at_km: float, width_km: float, base_m: float = 0.0) -> Shape:
    """A round hill: base + height · exp(−((d − at)/width)²)."""
    return lambda d: base_m + height_m * np.exp(-(((d - at_km) / width_km) ** 2))


def summits(width_km: float) -> Shape:
    """Two 1,200 m summits 103 km apart over ground at 600 m."""
    return lambda d: (
        600.0 + 600.0 * (np.exp(-((d / width_km) ** 2)) + np.exp(-(((103.0 - d) / width_km) ** 2)))
    )


RELAY_HILL = bell(300.0, 0.0, 2.0)
LOW_HILL = bell(40.0, 7.5, 2.0)
TO_RELAY = ("handheld_in_hand", "relay")
BASES = ("handheld_metal_base", "handheld_metal_base")
HOMES = ("home_vertical", "home_vertical")

TRIALS = {
    trial.name: trial
    for trial in (
        Trial("two handhelds, flat dry ground, 1.6 km", 1.6, flat, HAND_M, HAND_M, 118.0),
        Trial("two handhelds, flat dry ground, 10 km", 10.0, flat, HAND_M, HAND_M, 137.0),
        Trial("two handhelds, flat dry ground, 30 km", 30.0, flat, HAND_M, HAND_M, 148.0),
        Trial(
            "two quarter waves on metal bases, flat dry ground, 30 km",
            30.0,
            flat,
            HAND_M,
            HAND_M,
            None,
            ends=BASES,
        ),
        Trial(
            "two handhelds, even-sided 200 m hill between, 1.6 km", 1.6, straight_hill, HAND_M, HAND_M, 150.0
        ),
        Trial(
            "two handhelds, narrow 200 m hill on a plain, 1.6 km",
            1.6,
            bell(200.0, 0.8, 0.15),
            HAND_M,
            HAND_M,
            None,
        ),
        Trial("two handhelds, rounded 1,200 m summits, 103 km", 103.0, summits(2.0), HAND_M, HAND_M, 126.0),
        Trial("two handhelds, sharp 1,200 m summits, 103 km", 103.0, summits(0.5), HAND_M, HAND_M, None),
        Trial(
            "handheld to relay, 30 m mast on a 300 m hill, 15 km",
            15.0,
            RELAY_HILL,
            30.0,
            HAND_M,
            106.0,
            ends=TO_RELAY,
        ),
        Trial(
            "handheld to relay, 30 m mast on a 300 m hill, 50 km",
            50.0,
            RELAY_HILL,
            30.0,
            HAND_M,
            122.0,
            ends=TO_RELAY,
        ),
        Trial(
            "antenna at 1.5 m, low hill, 10 m clutter, 15 km", 15.0, LOW_HILL, 1.5, 10.0, None, 10.0, HOMES
        ),
        Trial(
            "antenna at 10 m, low hill, 10 m clutter, 15 km", 15.0, LOW_HILL, 10.0, 10.0, None, 10.0, HOMES
        ),
    )
}
SAID = [name for name, trial in TRIALS.items() if trial.said_db is not None]
LOW_ANTENNA, HIGH_ANTENNA = (
    TRIALS[f"antenna at {height} m, low hill, 10 m clutter, 15 km"] for height in ("1.5", "10")
)


@pytest.mark.parametrize("name", SAID)
def test_the_model_agrees_with_practice(name: str) -> None:
    assert TRIALS[name].loss_db() == pytest.approx(TRIALS[name].said_db, abs=ONE_DB)


@pytest.mark.parametrize(("to_w", "gain_db"), [(8.0, 2.0), (10.0, 3.0)])
def test_5_to_8_and_to_10_w_buy_2_and_3_db(to_w: float, gain_db: float) -> None:
    assert power_change_db(5.0, to_w) == pytest.approx(gain_db, abs=0.05)


def test_raising_the_antenna_from_1_5_to_10_m_buys_15_db() -> None:
    gained_db = LOW_ANTENNA.loss_db() - HIGH_ANTENNA.loss_db()
    assert gained_db == pytest.approx(15.0, abs=ONE_DB)
    assert gained_db > 4 * power_change_db(5.0, 10.0)


def test_a_hill_kills_what_flat_ground_carries() -> None:
    over = TRIALS["two handhelds, even-sided 200 m hill between, 1.6 km"].link()
    along = TRIALS["two handhelds, flat dry ground, 1.6 km"].link()
    assert along.verdict().label == "solid"
    assert not over.verdict().usable


def test_from_summit_to_summit_5_w_is_easy() -> None:
    assert TRIALS["two handhelds, rounded 1,200 m summits, 103 km"].link().verdict().label == "solid"


def test_a_narrow_hill_on_a_plain_loses_less_in_the_model_than_an_even_one() -> None:
    # A weakness of the method that docs/propagation.md tells: it takes the plain for low ground far beneath
    # the antennas, and leaves out what the plain costs.
    narrow = TRIALS["two handhelds, narrow 200 m hill on a plain, 1.6 km"].loss_db()
    even = TRIALS["two handhelds, even-sided 200 m hill between, 1.6 km"].loss_db()
    assert even - narrow > 20


def two_ray_db(length_km: float, first_m: float, second_m: float) -> float:
    """The textbook loss over flat ground far beyond the turning point, 40 log d − 20 log(h1 h2)."""
    return 40 * math.log10(1000 * length_km) - 20 * math.log10(first_m * second_m)


@pytest.mark.parametrize(("length_km", "two_ray"), [(1.6, 121.1), (10.0, 153.0)])
def test_without_scatter_flat_ground_costs_what_the_two_ray_formula_says(
    length_km: float, two_ray: float
) -> None:
    # The two-ray formula leaves out the ground wave, worth some decibels at the shorter distance.
    trial = TRIALS[f"two handhelds, flat dry ground, {length_km:g} km"]
    assert two_ray_db(length_km, HAND_M, HAND_M) == pytest.approx(two_ray, abs=0.1)
    assert trial.predict().without_scatter_loss_db == pytest.approx(two_ray, abs=3.0)


@pytest.mark.parametrize(("length_km", "doubtful"), [(1.6, False), (10.0, True), (30.0, True)])
def test_a_path_that_only_scatter_carries_is_doubted(length_km: float, doubtful: bool) -> None:
    found = doubts(TRIALS[f"two handhelds, flat dry ground, {length_km:g} km"].predict())
    assert bool(found) is doubtful
    assert all("best case" in sentence for sentence in found)


@pytest.mark.parametrize(("length_km", "two_ray"), [(15.0, 113.0), (50.0, 134.0)])
def test_for_a_handheld_on_the_plain_the_method_is_the_optimist(length_km: float, two_ray: float) -> None:
    trial = TRIALS[f"handheld to relay, 30 m mast on a 300 m hill, {length_km:g} km"]
    assert two_ray_db(length_km, 330.0, HAND_M) == pytest.approx(two_ray, abs=0.3)
    assert 5 < two_ray - trial.loss_db() < 13


def test_sharp_summits_are_as_good_as_free_space() -> None:
    # P.525-5: 32.4 + 20 log 146 + 20 log 103 = 115.94 dB.
    sharp = TRIALS["two handhelds, sharp 1,200 m summits, 103 km"].loss_db()
    assert sharp == pytest.approx(115.94, abs=0.06)


def table(heading: str) -> dict[str, list[str]]:
    """The rows under a heading of the document, by their first cell."""
    text = DOCUMENT.read_text(encoding="utf-8").split(heading, 1)[1]
    rows = re.findall(r"^\|(.+)\|$", text.split("\n## ", 1)[0].split("\n### ", 1)[0], flags=re.MULTILINE)
    cells = [[cell.strip() for cell in row.split("|")] for row in rows]
    return {first: rest for first, *rest in cells[2:]}


def row(trial: Trial) -> list[str]:
    """What the document's table must say of a trial."""
    link = trial.link()
    said = "" if trial.said_db is None else f"{trial.said_db:.0f}"
    margin = f"{link.margin_db:+.1f}".replace("-", "−")
    chance = spoken_probability(link.probability).removesuffix(" % chance")
    computed = trial.predict()
    losses = [f"{computed.loss_db:.1f}", f"{computed.without_scatter_loss_db:.1f}"]
    return [said, *losses, margin, chance, link.verdict().label]


@pytest.mark.parametrize("name", TRIALS)
def test_the_document_shows_what_is_computed(name: str) -> None:
    assert table("### Paths")[name] == row(TRIALS[name])


def test_the_document_shows_no_path_that_is_not_computed() -> None:
    assert set(table("### Paths")) == set(TRIALS)


def preset_gain_db(before: str, after: str) -> float:
    """What swapping one preset for another buys on the way into the relay, over one and the same loss."""
    relay = PRESETS["relay"].terminal(FREQUENCY_MHZ)
    margins = [
        direction(
            PRESETS[key].terminal(FREQUENCY_MHZ),
            relay,
            frequency_mhz=FREQUENCY_MHZ,
            path_loss_db=130.0,
            location_sigma_db=0.0,
        ).margin_db
        for key in (before, after)
    ]
    return margins[1] - margins[0]


def test_the_document_says_what_a_change_buys() -> None:
    bought = {
        "5 W to 8 W": power_change_db(5.0, 8.0),
        "5 W to 10 W": power_change_db(5.0, 10.0),
        "5 W to 50 W": power_change_db(5.0, 50.0),
        "lifting the handheld clear of the body": preset_gain_db("handheld_in_hand", "handheld_held_high"),
        "stock antenna in the hand to quarter wave on a metal base": preset_gain_db(
            "handheld_in_hand", "handheld_metal_base"
        ),
        "from inside an ordinary house to outdoors": preset_gain_db("handheld_indoors", "handheld_in_hand"),
        "antenna from 1.5 m to 10 m, 15 km over a low hill": LOW_ANTENNA.loss_db() - HIGH_ANTENNA.loss_db(),
    }
    assert table("### What a change buys") == {name: [f"{gain_db:.1f}"] for name, gain_db in bought.items()}
