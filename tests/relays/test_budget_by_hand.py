"""Two whole budgets worked apart from the project's own link code, from published formulas and tables.

Sources beside each figure; the path losses are those of P.1812-8, which is checked by itself. Everything else
is done here again with nothing but logarithms, for a handheld indoors and the relay of the tests, and for a
70 cm relay in a city.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import atan, degrees, exp, log10, sqrt
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from clubops.members.models import Station
from relays import paths, terrain_store
from relays.models import Relay
from relays.propagation import p1812
from relays.propagation.link import OneWayLink
from relays.propagation.profile import PathProfile
from tests.conftest import OPEN_VALLEY, Cast, make_station

pytestmark = pytest.mark.usefixtures("ground")

# A budget rounds each of about ten lines to 0.01 dB before it adds them.
TEN_ROUNDED_LINES_DB = 0.05
TWO_DIGITS_DB = 0.01


def db(ratio: float) -> float:
    return 10 * log10(ratio)


def ratio(value_db: float) -> float:
    return 10 ** (value_db / 10)


def hardline_db(length_m: float, mhz: float) -> float:
    """Half-inch foam hardline: 0.84 and 1.57 dB per 100 ft at 150 and 450 MHz; a·√f + b·f by Cramer's rule."""
    determinant = sqrt(150) * 450 - sqrt(450) * 150
    a, b = (0.84 * 450 - 1.57 * 150) / determinant, (sqrt(150) * 1.57 - sqrt(450) * 0.84) / determinant
    return (a * sqrt(mhz) + b * mhz) * length_m / 30.48


def connector_db(mhz: float) -> float:
    """0.25 dB at 150 MHz, 0.50 dB at 450 MHz, along the logarithm of frequency."""
    return 0.25 + 0.25 * max(0.0, log10(mhz / 150) / log10(3))


def walls_db(mhz: float, elevation_deg: float, deviate: float = 0.0) -> float:
    """P.2109-2, traditional building; `deviate` of the normal distribution."""
    f = log10(mhz / 1000)
    a = 12.64 + 3.72 * f + 0.96 * f * f + 0.212 * abs(elevation_deg) + deviate * (9.6 + 2.0 * f)
    b = 9.1 - 3.0 * f + deviate * (4.5 - 2.0 * f)
    return db(ratio(a) + ratio(b) + ratio(-3.0))


def walls_spread_db(mhz: float, elevation_deg: float) -> float:
    upper, lower = (walls_db(mhz, elevation_deg, deviate) for deviate in (1.281552, -1.281552))
    return (upper - lower) / (2 * 1.281552)


def houses_db(mhz: float) -> float:
    """P.2108-1 section 3.1: an antenna at 1.5 m among houses of 10 m, the street 27 m wide."""
    nu = 0.342 * sqrt(mhz / 1000) * sqrt(8.5 * degrees(atan(8.5 / 27)))
    return 6.9 + 20 * log10(sqrt((nu - 0.1) ** 2 + 1) + nu - 0.1) - 6.03


def entry_db(mhz: float, elevation_deg: float) -> float:
    """From above the roofs into the room: down among the houses, then through the walls."""
    return houses_db(mhz) + walls_db(mhz, elevation_deg)


def noise(
    external_db: float, deciles_db: float, sensitivity_dbm: float, loss_db: float
) -> tuple[float, float]:
    """Rise of the threshold and its spread; kT0B in 12.5 kHz is -133.01 dBm, C/N 5 dB at 12 dB SINAD."""
    receiver = ratio(sensitivity_dbm + 133.01 - 5.0)
    added = max(ratio(external_db) - 1, 0) / ratio(loss_db)
    share = ratio(external_db) / ratio(loss_db) / (receiver + added) if external_db > 0 else 0.0
    return db(1 + added / receiver), share * deciles_db / 2.563103


def root_of_squares(*sigmas_db: float) -> float:
    return sqrt(sum(sigma * sigma for sigma in sigmas_db))


def normal(z: float) -> float:
    """Cumulative normal, Abramowitz and Stegun 26.2.17: error below 7.5e-8."""
    t = 1 / (1 + 0.2316419 * abs(z))
    series = t * (0.319381530 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))))
    tail = exp(-z * z / 2) / 2.5066282746 * series
    return 1 - tail if z > 0 else tail


def agrees(one_way: OneWayLink, received_dbm: float, needed_dbm: float, sigma_db: float) -> None:
    assert one_way.received_dbm == pytest.approx(received_dbm, abs=TEN_ROUNDED_LINES_DB)
    assert one_way.threshold_dbm == pytest.approx(needed_dbm, abs=TEN_ROUNDED_LINES_DB)
    assert one_way.sigma_db == pytest.approx(sigma_db, abs=TWO_DIGITS_DB)
    assert one_way.probability == pytest.approx(normal((received_dbm - needed_dbm) / sigma_db), abs=0.005)


@pytest.fixture
def indoors(cast: Cast) -> Station:
    """5 W, -2.85 dBi, 3 dB of body, 0.25 µV, 1.5 m, residential noise, an ordinary house among others."""
    return make_station(cast.member, OPEN_VALLEY, "handheld_indoors")


# 0.25 µV in 50 ohms, a maker's table.
QUARTER_MICROVOLT_DBM = -119.03
# What the tests' presets and settings say: model error, equipment of a handheld and of a relay.
MODEL_DB, HANDHELD_DB, RELAY_DB = 6.0, 3.0, 1.0


def test_a_handheld_indoors_and_a_2_m_relay(indoors: Station, relay: Relay) -> None:
    path = paths.compute(indoors, relay)
    link, tilt_deg = path.link, path.talk_in.tx_horizon_angle_mrad / 17.4533
    # P.1812-8 section 4, 100 m square, 1.5 m over no clutter: 85 % of (0.52 + 0.024 f) w^0.28.
    place_db = 0.85 * (0.52 + 0.024 * 0.14613) * 100**0.28

    line_db = hardline_db(30, 146.13) + 4 * connector_db(146.13) + 1.5
    received = (
        36.99
        - 2.85
        - 3.0
        - walls_db(146.13, tilt_deg)
        - houses_db(146.13)
        - path.talk_in.loss_db
        + 5.15
        - line_db
    )
    # P.372 rural: 67.2 - 27.7 log f, deciles 9.2 and 4.6.
    rise_db, hourly_db = noise(67.2 - 27.7 * log10(146.13), 13.8, QUARTER_MICROVOLT_DBM, line_db)
    walls_sigma = walls_spread_db(146.13, tilt_deg)
    sigma = root_of_squares(place_db, MODEL_DB, HANDHELD_DB, walls_sigma, RELAY_DB, hourly_db)
    agrees(link.talk_in, received, QUARTER_MICROVOLT_DBM + rise_db + 3.0, sigma)

    line_db = hardline_db(30, 146.73) + 4 * connector_db(146.73) + 1.5
    received = (
        46.02
        - line_db
        + 5.15
        - path.talk_out.loss_db
        - walls_db(146.73, tilt_deg)
        - houses_db(146.73)
        - 2.85
        - 3.0
    )
    # P.372 residential: 72.5 - 27.7 log f, deciles 10.6 and 5.3; 5 dB of antenna and 3 dB of body keep it out.
    rise_db, hourly_db = noise(72.5 - 27.7 * log10(146.73), 15.9, QUARTER_MICROVOLT_DBM, 5.0 + 3.0)
    sigma = root_of_squares(place_db, MODEL_DB, HANDHELD_DB, walls_sigma, RELAY_DB, hourly_db)
    agrees(link.talk_out, received, QUARTER_MICROVOLT_DBM + rise_db + 3.0, sigma)


@pytest.fixture
def city_relay(relay: Relay) -> Relay:
    relay.input_mhz, relay.output_mhz = Decimal("449.325"), Decimal("444.325")
    relay.noise_class, relay.power_w, relay.antenna_gain_dbi = "city", 20.0, 8.15
    relay.duplexer_loss_db, relay.feedline_length_m = 1.0, 15.0
    relay.save()
    return relay


def test_a_handheld_indoors_and_a_70_cm_relay_in_a_city(indoors: Station, city_relay: Relay) -> None:
    path = paths.compute(indoors, city_relay)
    link, tilt_deg = path.link, path.talk_in.tx_horizon_angle_mrad / 17.4533
    place_db = 0.85 * (0.52 + 0.024 * 0.449325) * 100**0.28

    line_db = hardline_db(15, 449.325) + 4 * connector_db(449.325) + 1.0
    received = (
        36.99
        - 2.85
        - 3.0
        - walls_db(449.325, tilt_deg)
        - houses_db(449.325)
        - path.talk_in.loss_db
        + 8.15
        - line_db
    )
    # P.372-8 business: 44.3 - 12.3 log f; city deciles 11.0 and 6.7.
    rise_db, hourly_db = noise(44.3 - 12.3 * log10(449.325), 17.7, QUARTER_MICROVOLT_DBM, line_db)
    walls_sigma = walls_spread_db(449.325, tilt_deg)
    sigma = root_of_squares(place_db, MODEL_DB, HANDHELD_DB, walls_sigma, RELAY_DB, hourly_db)
    agrees(link.talk_in, received, QUARTER_MICROVOLT_DBM + rise_db + 3.0, sigma)

    line_db = hardline_db(15, 444.325) + 4 * connector_db(444.325) + 1.0
    received = (
        43.01
        - line_db
        + 8.15
        - path.talk_out.loss_db
        - walls_db(444.325, tilt_deg)
        - houses_db(444.325)
        - 2.85
        - 3.0
    )
    # The residential line carried on lies below thermal noise: nothing is added.
    sigma = root_of_squares(place_db, MODEL_DB, HANDHELD_DB, walls_spread_db(444.325, tilt_deg), RELAY_DB)
    agrees(link.talk_out, received, QUARTER_MICROVOLT_DBM + 3.0, sigma)


def loss_db(station: Station, relay: Relay, mhz: float, profile: Any, **changes: Any) -> float:
    """The Recommendation asked directly."""
    usual = {"time_percent": 50.0, "polarization": "vertical", "delta_n": 45.0, "n0": 325.0}
    heights = {"tx_height_m": station.antenna_height_m, "rx_height_m": relay.antenna_height_m}
    return p1812.predict(
        frequency_ghz=mhz / 1000, **profile.arguments(), **(usual | heights | changes)
    ).loss_db


def test_each_way_has_the_loss_of_its_own_frequency_and_heights(indoors: Station, city_relay: Relay) -> None:
    path = paths.compute(indoors, city_relay)
    assert path.link.talk_in.path_loss_db == loss_db(indoors, city_relay, 449.325, path.profile)
    assert path.link.talk_out.path_loss_db == loss_db(indoors, city_relay, 444.325, path.profile)
    assert path.link.talk_in.path_loss_db != path.link.talk_out.path_loss_db


def stand_on(profile: PathProfile, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the ground be this profile, whatever is asked for."""
    ground = SimpleNamespace(profile_between=lambda *_, **__: profile, cover=None)
    monkeypatch.setattr(terrain_store, "current_ground", lambda: ground)


def test_the_loss_is_that_of_the_relays_polarization(
    indoors: Station, relay: Relay, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Over flat ground the two differ; over mountains they do not.
    profile = paths.compute(indoors, relay).profile
    stand_on(replace(profile, ground_m=np.full_like(profile.ground_m, 300.0)), monkeypatch)
    upright_db = paths.compute(indoors, relay).talk_in.loss_db
    relay.polarization = Relay.Polarization.HORIZONTAL
    path = paths.compute(indoors, relay)
    asked_db = loss_db(indoors, relay, 146.13, path.profile, polarization="horizontal")
    assert path.link.talk_in.path_loss_db == asked_db > upright_db + 0.1


def test_the_median_loss_is_the_same_from_either_end(indoors: Station, relay: Relay) -> None:
    path = paths.compute(indoors, relay)
    swapped = p1812.predict(
        frequency_ghz=0.14613,
        time_percent=50.0,
        polarization="vertical",
        tx_height_m=relay.antenna_height_m,
        rx_height_m=indoors.antenna_height_m,
        **path.profile.reversed().arguments(),
    )
    assert path.talk_in.loss_db == pytest.approx(swapped.loss_db, abs=1e-9)


def test_place_to_place_spread_is_that_of_the_clutter_at_the_station(
    indoors: Station, relay: Relay, monkeypatch: pytest.MonkeyPatch
) -> None:
    profile = paths.compute(indoors, relay).profile
    trees_m = np.zeros_like(profile.clutter_m)
    trees_m[0] = 8.0
    stand_on(replace(profile, clutter_m=trees_m), monkeypatch)
    place = paths.compute(indoors, relay).link.talk_in.spreads[0]
    # 1.5 m under 8 m: all of (0.52 + 0.024 f) w^0.28.
    assert place.sigma_db == pytest.approx((0.52 + 0.024 * 0.14613) * 100**0.28, abs=1e-9)
