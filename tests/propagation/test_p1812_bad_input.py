"""What the path calculation refuses, and the sentence it refuses it with.

Limits: Recommendation ITU-R P.1812-8 (09/2025), scope and input tables (30 MHz to 6 GHz, 1 to 50 % of
time, 1 to 99 % of places, 0.25 to 3000 km, antennas 1 to 3000 m). The limits on ground and clutter
heights, refractivity and coast distances are this project's own.
"""

from __future__ import annotations

import math
import pickle

import numpy as np
import pytest

from relays.propagation import errors
from relays.propagation.p1812 import predict, sigma_location_db
from tests.propagation.paths import inland, predicted

NAN, INF = math.nan, math.inf


def with_one(value: float, index: int = 7, start: float = 300.0) -> np.ndarray:
    profile = np.full(81, float(start))
    profile[index] = value
    return profile


def distances(**changed: float) -> np.ndarray:
    km = np.linspace(0, 20, 81)
    for index, value in changed.items():
        km[int(index[1:])] = value
    return km


REFUSED = [
    ({"frequency_ghz": 0.029}, errors.FrequencyRangeError, "0.03 to 6 GHz"),
    ({"frequency_ghz": 146}, errors.FrequencyRangeError, "146 GHz"),
    ({"frequency_ghz": 0}, errors.FrequencyRangeError, "frequency_ghz is 0"),
    ({"frequency_ghz": NAN}, errors.NotFiniteError, "frequency_ghz"),
    ({"frequency_ghz": "fast"}, errors.NotANumberError, "must be a number; str was given"),
    ({"frequency_ghz": "0.146"}, errors.NotANumberError, "must be a number; str was given"),
    ({"frequency_ghz": None}, errors.NotANumberError, "NoneType"),
    ({"frequency_ghz": 1j}, errors.NotANumberError, "complex"),
    ({"time_percent": 0.9}, errors.TimePercentRangeError, "1 to 50 %"),
    ({"time_percent": 50.1}, errors.TimePercentRangeError, "50.1 %"),
    ({"location_percent": 0}, errors.LocationPercentRangeError, "1 to 99 %"),
    ({"location_percent": 99.5}, errors.LocationPercentRangeError, "99.5 %"),
    ({"location_sigma_db": -1}, errors.LocationSigmaRangeError, "cannot be negative"),
    ({"location_sigma_db": INF}, errors.NotFiniteError, "location_sigma_db"),
    ({"tx_height_m": 0.5}, errors.AntennaHeightRangeError, "tx_height_m is 0.5 m"),
    ({"rx_height_m": 3001}, errors.AntennaHeightRangeError, "rx_height_m is 3001 m"),
    ({"rx_height_m": 0}, errors.AntennaHeightRangeError, "1 to 3000 m"),
    ({"distance_km": np.linspace(0, 0.2, 81)}, errors.PathLengthRangeError, "0.25 to 3000 km"),
    ({"distance_km": np.linspace(0, 3001, 81)}, errors.PathLengthRangeError, "3001 km"),
    ({"distance_km": np.linspace(0.1, 20, 81)}, errors.ProfileOrderError, "must start at 0 km"),
    ({"distance_km": distances(p7=2.1)}, errors.ProfileOrderError, "point 8"),
    ({"distance_km": distances(p8=1.75)}, errors.ProfileOrderError, "point 8"),
    ({"distance_km": np.linspace(0, 20, 81)[::-1]}, errors.ProfileOrderError, "must start at 0 km"),
    ({"distance_km": distances(p3=NAN)}, errors.NotFiniteError, "distance_km is nan at point 3"),
    ({"distance_km": [0, 1, 2, 3]}, errors.ProfileTooShortError, "4 points; at least 5"),
    ({"distance_km": []}, errors.ProfileTooShortError, "0 points"),
    ({"distance_km": 20.0}, errors.ProfileShapeError, "one list"),
    ({"distance_km": np.zeros((9, 9))}, errors.ProfileShapeError, "2 dimensions"),
    ({"distance_km": ["a", "b", "c", "d", "e"]}, errors.NotANumberError, "distance_km"),
    ({"ground_m": np.zeros(80)}, errors.ProfileShapeError, "80 numbers but distance_km has 81"),
    ({"ground_m": [[1, 2], [3]]}, errors.NotANumberError, "ground_m"),
    ({"ground_m": ["300"] * 81}, errors.NotANumberError, "ground_m must hold numbers only"),
    ({"ground_m": np.full(81, 1j)}, errors.NotANumberError, "ground_m must hold numbers only"),
    ({"ground_m": np.ma.masked_equal(with_one(5), 5)}, errors.NotFiniteError, "ground_m is nan at point 7"),
    ({"ground_m": [None] * 81}, errors.NotFiniteError, "ground_m is nan at point 0"),
    ({"ground_m": with_one(NAN)}, errors.NotFiniteError, "ground_m is nan at point 7"),
    ({"ground_m": with_one(-INF)}, errors.NotFiniteError, "ground_m is -inf at point 7"),
    ({"ground_m": with_one(-32768)}, errors.GroundHeightRangeError, "-32768 m at point 7"),
    ({"ground_m": with_one(9999)}, errors.GroundHeightRangeError, "9999 m at point 7"),
    ({"clutter_m": np.zeros(82)}, errors.ProfileShapeError, "clutter_m has 82"),
    ({"clutter_m": [0.0]}, errors.ProfileShapeError, "clutter_m has 1 numbers"),
    ({"clutter_m": with_one(-0.1, start=0)}, errors.ClutterHeightRangeError, "-0.1 m at point 7"),
    ({"clutter_m": with_one(NAN, start=0)}, errors.NotFiniteError, "clutter_m is nan"),
    ({"zone": with_one(2, start=4)}, errors.ZoneCodeError, "zone is 2 at point 7"),
    ({"zone": with_one(3.5, start=4)}, errors.ZoneCodeError, "1 (sea), 3 (coastal land) or 4 (inland)"),
    ({"zone": 0}, errors.ZoneCodeError, "zone is 0"),
    ({"zone": np.full(79, 4)}, errors.ProfileShapeError, "zone has 79"),
    ({"zone": "inland"}, errors.NotANumberError, "zone"),
    ({"polarization": "circular"}, errors.PolarizationError, "'circular' was given"),
    ({"polarization": 1}, errors.PolarizationError, '"horizontal" or "vertical"'),
    ({"polarization": np.array(["vertical", "vertical"])}, errors.PolarizationError, "polarization"),
    ({"delta_n": 157}, errors.RefractivityRangeError, "infinite"),
    ({"delta_n": -45}, errors.RefractivityRangeError, "45 and not -45"),
    ({"delta_n": NAN}, errors.NotFiniteError, "delta_n"),
    ({"n0": 45}, errors.RefractivityRangeError, "200 to 500 N-units"),
    ({"tx_coast_km": -1}, errors.CoastDistanceRangeError, "tx_coast_km is -1 km"),
    ({"rx_coast_km": INF}, errors.NotFiniteError, "rx_coast_km"),
    ({"tx_latitude_deg": 90.1}, errors.CoordinateRangeError, "tx_latitude_deg is off the globe"),
    ({"rx_latitude_deg": -91}, errors.CoordinateRangeError, "-90 to 90 degrees"),
    ({"tx_longitude_deg": 180.1}, errors.CoordinateRangeError, "-180 to 180 degrees"),
    ({"rx_longitude_deg": NAN}, errors.NotFiniteError, "rx_longitude_deg"),
]


@pytest.mark.parametrize(("changes", "error", "words"), REFUSED)
def test_it_refuses_with_a_named_error_and_a_sentence(changes, error, words: str) -> None:
    with pytest.raises(errors.PropagationError) as refused:
        predicted(**changes)
    assert type(refused.value) is error
    assert words in str(refused.value)
    assert refused.value.quantity
    assert refused.value.allowed


@pytest.mark.parametrize(
    "changes",
    [
        {"frequency_ghz": 0.03},
        {"frequency_ghz": 6},
        {"time_percent": 1},
        {"time_percent": 50},
        {"location_percent": 1, "location_sigma_db": 5.5},
        {"location_percent": 99, "location_sigma_db": 5.5},
        {"tx_height_m": 1, "rx_height_m": 3000},
        {"distance_km": np.linspace(0, 0.25, 81)},
        {"distance_km": np.linspace(0, 3000, 81)},
        {"delta_n": 0},
        {"delta_n": 156.9},
        {"tx_latitude_deg": 90, "rx_latitude_deg": -90},
        {"tx_longitude_deg": -180, "rx_longitude_deg": 180},
        {"tx_coast_km": 0, "rx_coast_km": 0},
    ],
)
def test_it_answers_at_the_very_limits(changes) -> None:
    assert math.isfinite(predicted(**changes).loss_db)


def test_the_error_carries_the_facts() -> None:
    with pytest.raises(errors.FrequencyRangeError) as refused:
        predicted(frequency_ghz=146)
    assert (refused.value.quantity, refused.value.value) == ("frequency_ghz", 146)
    assert refused.value.allowed == "0.03 to 6 GHz"
    assert (
        str(refused.value) == "frequency_ghz is 146 GHz; Recommendation ITU-R P.1812-8 covers 0.03 to 6 GHz."
    )


def test_the_error_survives_a_trip_through_a_queue() -> None:
    with pytest.raises(errors.TimePercentRangeError) as refused:
        predicted(time_percent=99)
    again = pickle.loads(pickle.dumps(refused.value))
    assert (type(again), str(again), again.value) == (
        errors.TimePercentRangeError,
        str(refused.value),
        refused.value.value,
    )


def test_a_swapped_position_is_never_printed() -> None:
    with pytest.raises(errors.CoordinateRangeError) as refused:
        predicted(tx_latitude_deg=123.4567)
    assert "123" not in str(refused.value) + repr(refused.value)
    assert refused.value.value == 123.4567


def test_every_argument_must_be_named() -> None:
    with pytest.raises(TypeError):
        predict(0.146, 50)  # type: ignore[misc]


def test_a_missing_argument_is_an_error_not_a_default() -> None:
    arguments = inland()
    del arguments["zone"]
    with pytest.raises(TypeError, match="zone"):
        predict(**arguments)


@pytest.mark.parametrize(
    ("arguments", "error"),
    [
        ((146, 100, 1.5, 10), errors.FrequencyRangeError),
        ((0.146, 0, 1.5, 10), errors.NotPositiveError),
        ((0.146, NAN, 1.5, 10), errors.NotFiniteError),
        ((0.146, 100, 0.5, 10), errors.AntennaHeightRangeError),
        ((0.146, 100, 1.5, -1), errors.ClutterHeightRangeError),
    ],
)
def test_the_spread_over_places_refuses_too(arguments, error) -> None:
    with pytest.raises(error):
        sigma_location_db(*arguments)
