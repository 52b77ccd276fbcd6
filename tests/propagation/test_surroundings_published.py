"""Clutter round an antenna against Recommendation ITU-R P.2108-1 section 3.1.

PUBLISHED: test data of the United States' reference implementation of P.2108-1 (NTIA/ITS, file
HeightGainTerminalCorrectionModelTestData.csv), printed to 0.1 dB: its rows for suburban, urban, forest and
dense urban clutter, which share one equation.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from relays.propagation.errors import AntennaHeightRangeError, FrequencyRangeError, NotPositiveError
from relays.propagation.surroundings import (
    STREET_WIDTH_M,
    SURROUNDINGS,
    Around,
    UnknownSurroundingsError,
    terminal_clutter_loss_db,
)

HALF_A_TENTH_DB = 0.05
HALF_A_HUNDREDTH_DB = 0.005

PUBLISHED = [
    # frequency GHz, antenna m, street m, clutter m, loss dB
    (1.5, 2.0, 27.0, 10.0, 20.5),
    (1.5, 2.0, 27.0, 6.0, 14.6),
    (1.5, 2.0, 27.0, 15.0, 24.5),
    (1.5, 2.0, 27.0, 20.0, 27.1),
    (3.0, 3.0, 15.0, 15.0, 29.0),
    (1.5, 2.5, 25.0, 10.0, 20.2),
    (0.03, 2.1, 24.5, 9.8, 5.7),
    (1.7, 30.0, 24.5, 9.8, 0.0),
    (1.7, 30.0, 24.5, 30.0, 0.0),
]


@pytest.mark.parametrize(("ghz", "antenna_m", "street_m", "clutter_m", "loss_db"), PUBLISHED)
def test_it_agrees_with_the_published_test_data(
    ghz: float, antenna_m: float, street_m: float, clutter_m: float, loss_db: float
) -> None:
    found = terminal_clutter_loss_db(1000 * ghz, antenna_m, clutter_m, street_m)
    assert found == pytest.approx(loss_db, abs=HALF_A_TENTH_DB)


def test_a_handheld_in_a_street_of_houses_worked_by_hand() -> None:
    # 146 MHz, 1.5 m under 10 m: atan(8.5/27) = 17.475 degrees, nu = 0.13068 sqrt(148.54) = 1.5927,
    # J = 6.9 + 20 log(sqrt(1.4927^2 + 1) + 1.4927) = 17.242 dB, less 6.03.
    assert terminal_clutter_loss_db(146.0, 1.5, 10.0) == pytest.approx(11.212, abs=HALF_A_HUNDREDTH_DB)


def test_a_handheld_in_a_dense_town_on_70_cm_worked_by_hand() -> None:
    # Equations (2c) to (2e), (2g): 446 MHz, 1.5 m under 20 m: h = 18.5 m, atan(18.5/27) = 34.418 degrees,
    # nu = 0.342 sqrt(0.446) sqrt(636.7) = 5.7634, J = 6.9 + 20 log(sqrt(5.6634^2 + 1) + 5.6634) = 28.048 dB.
    assert Around("dense_town", 1.5).loss_db(446.0) == pytest.approx(22.018, abs=HALF_A_HUNDREDTH_DB)


@pytest.mark.parametrize(
    ("key", "clutter_m"), [("wooded", 15.0), ("suburban", 10.0), ("town", 15.0), ("dense_town", 20.0)]
)
def test_heights_are_those_of_the_recommendations_table_3(key: str, clutter_m: float) -> None:
    """As the published Java implementation of P.2108-1 (eeveetza/javaP2108, README, its section 1) prints them.

    Suburban 10 m, urban, trees and forest 15 m, dense urban 20 m; a street of 27 m.
    """
    assert SURROUNDINGS[key].clutter_height_m == clutter_m
    assert STREET_WIDTH_M == 27.0


@pytest.mark.parametrize("key", SURROUNDINGS)
@pytest.mark.parametrize("frequency_mhz", [52.5, 146.0, 446.0, 927.0])
def test_a_higher_antenna_never_loses_more_and_above_it_all_nothing(key: str, frequency_mhz: float) -> None:
    losses_db = [Around(key, height_m).loss_db(frequency_mhz) for height_m in (1.0, 1.5, 2.0, 5.0, 9.0, 14.0)]
    assert losses_db == sorted(losses_db, reverse=True)
    assert Around(key, SURROUNDINGS[key].clutter_height_m or 1.0).loss_db(frequency_mhz) == 0.0


def test_denser_surroundings_and_higher_frequencies_cost_more() -> None:
    costs_db = [Around(key, 1.5).loss_db(146.0) for key in ("open", "suburban", "town", "dense_town")]
    assert costs_db == sorted(costs_db)
    assert costs_db[0] == 0.0 < costs_db[1]
    assert Around("suburban", 1.5).loss_db(446.0) > Around("suburban", 1.5).loss_db(146.0) + 4.0


def test_open_ground_has_no_range_of_frequencies() -> None:
    assert Around("open", 1.5).loss_db(5760.0) == 0.0


def test_it_refuses_surroundings_that_nobody_knows() -> None:
    with pytest.raises(
        UnknownSurroundingsError, match="“jungle” is no kind of surroundings; use one of open"
    ):
        Around("jungle", 1.5)


def test_the_document_says_the_same() -> None:
    at = {
        (f, h): round(terminal_clutter_loss_db(f, a, h))
        for f in (146, 446)
        for a, h in ((1.5, 10), (1.5, 15))
    }
    high = [round(terminal_clutter_loss_db(f, 10, 15)) for f in (146, 446)]
    text = " ".join((Path(__file__).parents[2] / "docs" / "propagation.md").read_text("utf-8").split())
    low = f"another {at[146, 10]} dB among houses 10 m high on 2 m and {at[446, 10]} dB on 70 cm, and {at[146, 15]} and"
    assert f"{low} {at[446, 15]} dB among trees of 15 m" in text
    assert f"an antenna at 10 m loses {high[0]} and {high[1]} dB among such trees" in text


@pytest.mark.parametrize("frequency_mhz", [29.0, 3001.0, float("nan")])
def test_it_refuses_a_frequency_outside_the_model(frequency_mhz: float) -> None:
    with pytest.raises(FrequencyRangeError, match="30 to 3000 MHz"):
        terminal_clutter_loss_db(frequency_mhz, 1.5, 10.0)


def test_it_refuses_heights_and_streets_of_nothing() -> None:
    with pytest.raises(AntennaHeightRangeError, match="more than 0"):
        terminal_clutter_loss_db(146.0, 0.0, 10.0)
    with pytest.raises(NotPositiveError, match="clutter_height_m"):
        terminal_clutter_loss_db(146.0, 1.5, 0.0)
    with pytest.raises(NotPositiveError, match="street_width_m"):
        terminal_clutter_loss_db(146.0, 1.5, 10.0, 0.0)
