"""Stations and relays as ends of a budget: every figure says where it comes from as long as that is true."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from clubops.members.models import Station
from relays import terminals
from relays.models import Relay
from relays.propagation.feedline import Feedline
from relays.propagation.link import two_way
from relays.propagation.presets import PRACTICE, PRESETS
from relays.propagation.surroundings import SURROUNDINGS, Around
from relays.propagation.terminal import AS_ENTERED, Terminal

BEGUN = [(key, mhz) for key in PRESETS if key != "relay" for mhz in (146.0, 445.0)]
SOURCED = (
    "power_w",
    "antenna_gain_dbi",
    "sensitivity_dbm",
    "body_loss_db",
    "equipment_spread_db",
    "feedline",
)


def station(preset: str = "mobile", frequency_mhz: float = 146.0, **changes: Any) -> Station:
    values = terminals.fields_from_preset(preset, frequency_mhz) | changes
    return Station(name="home", preset=preset, latitude_deg=36.57, longitude_deg=-84.11, **values)


@pytest.mark.parametrize(("key", "frequency_mhz"), BEGUN)
def test_a_station_begun_from_a_preset_has_its_sources(key: str, frequency_mhz: float) -> None:
    end, preset = terminals.of_station(station(key, frequency_mhz)), PRESETS[key]
    expected = preset.terminal(frequency_mhz)
    assert {name: end.source(name) for name in SOURCED} == {name: expected.source(name) for name in SOURCED}
    assert AS_ENTERED not in [end.source(name) for name in SOURCED]


CHANGES: dict[str, tuple[str, Any]] = {
    "power_w": ("power_w", 10.0),
    "antenna_gain_dbi": ("antenna_gain_dbi", 1.5),
    "sensitivity_dbm": ("sensitivity_uv", 0.2),
    "body_loss_db": ("body_loss_db", 1.0),
    "feedline": ("feedline_length_m", 12.0),
}


@pytest.mark.parametrize("quantity", CHANGES)
def test_a_figure_that_was_changed_is_as_entered_and_no_other(quantity: str) -> None:
    field, value = CHANGES[quantity]
    end = terminals.of_station(station(**{field: value}))
    assert [name for name in SOURCED if end.source(name) == AS_ENTERED] == [quantity]


def test_a_station_begun_from_nothing_is_as_entered_but_for_its_spread() -> None:
    end = terminals.of_station(station(preset="mobile"))
    blank = terminals.of_station(Station(name="home", latitude_deg=36.57, longitude_deg=-84.11))
    assert blank.source("power_w") == AS_ENTERED != end.source("power_w")
    assert blank.source("equipment_spread_db") == PRACTICE


def relay(**changes: Any) -> Relay:
    pair = {"input_mhz": Decimal("146.130"), "output_mhz": Decimal("146.730")}
    return Relay(**({"name": "Ridge 2 m", "feedline_kind": "hardline_1_2"} | pair | changes))


def test_nobody_entered_the_spread_of_a_relay() -> None:
    end = terminals.of_relay(relay())
    assert end.source("equipment_spread_db") == PRACTICE
    assert end.source("duplexer_loss_db") == AS_ENTERED


def test_a_digital_relay_is_not_judged_by_sinad() -> None:
    end = terminals.of_relay(relay(mode=Relay.Mode.DMR))
    near = terminals.of_station(
        station(), bandwidth_khz=end.bandwidth_khz, criterion=end.sensitivity_criterion
    )
    link = two_way(
        near,
        end,
        frequency_in_mhz=146.13,
        frequency_out_mhz=146.73,
        loss_in_db=120.0,
        loss_out_db=120.0,
        location_sigma_db=1.9,
    )
    words = [line.label + line.explanation for line in link.talk_in.lines + link.talk_out.lines]
    assert not any("SINAD" in text for text in words)
    assert sum("bit error" in text for text in words) == 4


def test_every_figure_of_a_stations_row_reaches_its_end_of_the_budget() -> None:
    row = station(
        power_w=33.0,
        antenna_gain_dbi=4.4,
        sensitivity_uv=0.5,
        body_loss_db=2.5,
        feedline_kind="low_loss_400",
        feedline_length_m=7.0,
        connectors=3,
        antenna_swr=1.7,
        noise_class="city",
        building="thermally_efficient",
        surroundings="wooded",
        antenna_height_m=2.5,
    )
    # 0.5 µV in 50 ohms is -113.01 dBm, published to 0.01 dB.
    found = terminals.of_station(row, bandwidth_khz=8.5)
    assert found.sensitivity_dbm == pytest.approx(-113.01, abs=0.005)
    assert found == Terminal(
        name="home",
        power_w=33.0,
        antenna_gain_dbi=4.4,
        sensitivity_dbm=found.sensitivity_dbm,
        feedline=Feedline("low_loss_400", 7.0, connectors=3, antenna_swr=1.7),
        body_loss_db=2.5,
        bandwidth_khz=8.5,
        noise_class="city",
        indoors="thermally_efficient",
        around=Around("wooded", 2.5),
        equipment_spread_db=PRESETS["mobile"].equipment_spread.value,
    )


def test_surroundings_that_are_in_the_path_loss_are_not_counted() -> None:
    assert terminals.of_station(station(surroundings="town"), clutter_known=True).around is None


@pytest.mark.parametrize("choice", Station.Surroundings)
def test_every_choice_of_surroundings_is_one_the_calculation_knows(choice: str) -> None:
    assert set(SURROUNDINGS) == set(Station.Surroundings)
    assert Around(choice, 1.5).loss_db(146.0) >= 0.0


def test_every_figure_of_a_relays_row_reaches_its_end_of_the_budget() -> None:
    row = relay(
        power_w=33.0,
        antenna_gain_dbi=4.4,
        sensitivity_uv=0.5,
        duplexer_loss_db=2.2,
        feedline_length_m=7.0,
        connectors=3,
        antenna_swr=1.7,
        noise_class="city",
        mode=Relay.Mode.FM_NARROW,
    )
    found = terminals.of_relay(row)
    assert found == Terminal(
        name="Ridge 2 m",
        power_w=33.0,
        antenna_gain_dbi=4.4,
        sensitivity_dbm=found.sensitivity_dbm,
        feedline=Feedline("hardline_1_2", 7.0, connectors=3, antenna_swr=1.7),
        duplexer_loss_db=2.2,
        bandwidth_khz=8.5,
        noise_class="city",
        equipment_spread_db=1.0,
    )


def test_every_mode_has_its_bandwidth() -> None:
    assert set(terminals.BANDWIDTH_KHZ) == set(Relay.Mode)
