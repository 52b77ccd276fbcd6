"""The link budget in both directions: it adds up by hand, and its probability is what it says."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from statistics import NormalDist
from typing import Any

import pytest

from relays.propagation import link, noise, terminal
from relays.propagation.entry import UnknownBuildingError, building_entry_spread_db
from relays.propagation.errors import NotFiniteError, NotPositiveError, PropagationError
from relays.propagation.feedline import Feedline, UnknownCableError
from relays.propagation.link import OneWayLink, TwoWayLink, two_way
from relays.propagation.presets import PRESETS
from relays.propagation.terminal import Terminal

HANDHELD = PRESETS["handheld_in_hand"].terminal(146.0)
INDOORS = PRESETS["handheld_indoors"].terminal(146.0)
MOBILE = PRESETS["mobile"].terminal(146.0)
RELAY = PRESETS["relay"].terminal(146.0)
BOTH_WAYS = ("talk_in", "talk_out")


def path(station: Terminal = HANDHELD, relay: Terminal = RELAY, **changes: Any) -> TwoWayLink:
    usual: dict[str, Any] = {
        "frequency_in_mhz": 146.34,
        "frequency_out_mhz": 146.94,
        "loss_in_db": 130.0,
        "loss_out_db": 130.1,
        "location_sigma_db": 1.9,
    }
    return two_way(station, relay, **(usual | changes))


def by_hand(one_way: OneWayLink, *parts: str) -> Decimal:
    """The sum a person gets from the printed lines, two decimals each."""
    return sum((Decimal(f"{line.value:.2f}") for line in one_way.lines if line.part in parts), Decimal(0))


@pytest.mark.parametrize("key", PRESETS)
@pytest.mark.parametrize("way", BOTH_WAYS)
def test_the_printed_lines_add_up_by_hand_exactly(key: str, way: str) -> None:
    one_way: OneWayLink = getattr(path(PRESETS[key].terminal(146.0)), way)
    received = by_hand(one_way, "transmit", "path", "receive")
    needed = by_hand(one_way, "threshold")
    assert Decimal(f"{one_way.received_dbm:.2f}") == received
    assert Decimal(f"{one_way.threshold_dbm:.2f}") == needed
    assert Decimal(f"{one_way.margin_db:.2f}") == received - needed
    assert one_way.received_dbm == float(f"{one_way.received_dbm:.2f}")


def test_rounding_the_lines_moves_the_level_by_less_than_a_tenth() -> None:
    station = replace(MOBILE, power_w=37.0)
    run, far = station.line_loss_at(146.34).total_db, RELAY.line_loss_at(146.34).total_db
    exact = 10 * math.log10(37e3) - run + 1.0 - 130.0 + 5.15 - far - 1.5
    assert path(station).talk_in.received_dbm == pytest.approx(exact, abs=0.06)


def test_every_line_says_what_it_is_and_where_it_comes_from() -> None:
    lines = path(INDOORS).talk_in.lines
    assert all(line.label and line.explanation and line.unit in {"dB", "dBm", "dBi"} for line in lines)
    parts = [line.part for line in lines]
    assert parts == sorted(parts, key=["transmit", "path", "receive", "threshold"].index)


@pytest.mark.parametrize("way", BOTH_WAYS)
def test_more_path_loss_costs_margin_one_for_one(way: str) -> None:
    near = getattr(path(), way)
    far = getattr(path(loss_in_db=137.0, loss_out_db=137.1), way)
    assert near.margin_db - far.margin_db == pytest.approx(7.0)
    assert near.largest_path_loss_db == pytest.approx(far.largest_path_loss_db)
    assert (
        getattr(
            path(loss_in_db=near.largest_path_loss_db, loss_out_db=near.largest_path_loss_db), way
        ).margin_db
        == 0
    )


def test_each_direction_uses_its_own_frequency_power_and_loss() -> None:
    found = path(MOBILE, frequency_in_mhz=144.0, frequency_out_mhz=440.0, loss_out_db=140.0)
    assert found.talk_in.lines[0].value == pytest.approx(46.99)
    assert found.talk_out.lines[0].value == pytest.approx(43.98)
    cable_in = next(line.value for line in found.talk_in.lines if line.label == "Cable, mobile")
    cable_out = next(line.value for line in found.talk_out.lines if line.label == "Cable, mobile")
    assert cable_out < cable_in
    assert found.talk_out.path_loss_db == 140.0


def test_the_duplexer_is_paid_once_in_each_direction() -> None:
    without = path(relay=replace(RELAY, duplexer_loss_db=0.0))
    # On the way in it weakens the outside noise too, so it costs a little less than its own loss.
    assert path().talk_out.received_dbm - without.talk_out.received_dbm == pytest.approx(-1.5)
    assert path().talk_in.received_dbm - without.talk_in.received_dbm == pytest.approx(-1.5)
    assert -1.5 < path().talk_in.margin_db - without.talk_in.margin_db < 0


@pytest.mark.parametrize("way", BOTH_WAYS)
def test_going_indoors_costs_the_median_and_widens_the_spread(way: str) -> None:
    outside, inside = getattr(path(HANDHELD), way), getattr(path(INDOORS), way)
    assert outside.margin_db - inside.margin_db == pytest.approx(14.06, abs=0.02)
    entry_db = building_entry_spread_db(146.34 if way == "talk_in" else 146.94, "traditional")
    assert inside.sigma_db**2 - outside.sigma_db**2 == pytest.approx(entry_db**2)


def test_the_spread_is_the_root_of_the_named_variances() -> None:
    spreads = {spread.key: spread for spread in path(INDOORS).talk_in.spreads}
    assert set(spreads) == {"location", "model", "equipment", "entry", "noise"}
    total = math.sqrt(sum(spread.sigma_db**2 for spread in path(INDOORS).talk_in.spreads))
    assert path(INDOORS).talk_in.sigma_db == pytest.approx(total)
    assert spreads["location"].sigma_db == 1.9
    assert spreads["model"].sigma_db == 6.0
    assert "common practice" in spreads["model"].source


def test_both_ends_bring_their_equipment_spread() -> None:
    found = [spread.sigma_db for spread in path().talk_in.spreads if spread.key == "equipment"]
    assert found == [3.0, 1.0]


def test_the_probability_is_that_of_a_normal_margin() -> None:
    one_way = path().talk_in
    assert one_way.probability == pytest.approx(
        NormalDist(one_way.margin_db, one_way.sigma_db).cdf(0) * -1 + 1
    )
    assert link.usable_probability(0.0, 8.0) == 0.5
    assert link.usable_probability(10.2525, 8.0) == pytest.approx(0.90, abs=0.0001)


def test_with_nothing_uncertain_the_answer_is_yes_or_no() -> None:
    assert link.usable_probability(0.0, 0.0) == 1.0
    assert link.usable_probability(-0.01, 0.0) == 0.0


def test_margin_for_a_probability_is_the_way_back() -> None:
    margin_db = link.margin_for_probability_db(0.9, 7.5)
    assert link.usable_probability(margin_db, 7.5) == pytest.approx(0.9)
    for probability in (0.0, 1.0, float("nan")):
        with pytest.raises(link.LinkRangeError):
            link.margin_for_probability_db(probability, 7.5)


def test_asking_for_better_quality_raises_the_threshold_by_that_much() -> None:
    assert path(required_db=16.0).talk_in.threshold_dbm - path(required_db=0.0).talk_in.threshold_dbm == 16.0


def test_a_noisier_place_raises_only_the_threshold_there() -> None:
    quiet, loud = path(replace(MOBILE, noise_class="quiet_rural")), path(replace(MOBILE, noise_class="city"))
    assert loud.talk_out.threshold_dbm > quiet.talk_out.threshold_dbm + 5
    assert loud.talk_in == quiet.talk_in


def test_an_inefficient_antenna_hears_less_noise_too() -> None:
    # With the antenna 20 dB down the outside noise is gone, and the threshold is the maker's.
    deaf = path(replace(HANDHELD, antenna_gain_dbi=-40.0)).talk_out
    assert deaf.threshold_dbm == pytest.approx(HANDHELD.sensitivity_dbm + link.REQUIRED_DB, abs=0.02)


def test_the_weaker_direction_limits() -> None:
    weak = path(HANDHELD)
    assert weak.limiting == "talk_in"
    assert weak.margin_db == weak.talk_in.margin_db < weak.talk_out.margin_db
    assert weak.probability == weak.talk_in.probability
    strong = path(replace(MOBILE, power_w=400.0))
    assert strong.limiting == "talk_out"
    assert strong.imbalance_db > 0


def test_an_imbalance_above_six_db_is_said_in_a_sentence() -> None:
    level = path(replace(MOBILE, power_w=25.0, noise_class="rural", sensitivity_dbm=RELAY.sensitivity_dbm))
    assert abs(level.imbalance_db) <= 6.0
    assert level.warnings == ()
    lopsided = path(HANDHELD, relay=replace(RELAY, power_w=100.0))
    assert lopsided.imbalance_db < -6.0
    assert any(f"{-lopsided.imbalance_db:.1f} dB" in sentence for sentence in lopsided.warnings)


UHF = {"frequency_in_mhz": 442.0, "frequency_out_mhz": 442.0}


def test_noise_read_outside_its_range_is_warned_of_once() -> None:
    city = replace(MOBILE, noise_class="city")
    found = path(city, replace(RELAY, noise_class="city"), **UHF)
    assert sum("P.372" in sentence for sentence in found.warnings) == 1


def test_noise_that_could_not_matter_is_not_warned_of_but_named_in_its_line() -> None:
    # A stock antenna in the hand lets so little in that 8 dB more noise would raise the threshold by 0.4 dB.
    found = path(HANDHELD, replace(RELAY, power_w=5.0, antenna_gain_dbi=-20.0), **UHF)
    assert found.warnings == ()
    line = next(line for line in found.talk_out.lines if line.label == "Raised by noise from outside")
    assert line.value == 0.0
    assert "0.8 dB below thermal noise" in line.explanation
    assert "beyond the 250 MHz it is stated to" in line.explanation


def test_a_doubt_about_the_path_stands_first_among_the_warnings() -> None:
    found = path(path_caveats=("Read this as a best case.",))
    assert found.warnings[0] == "Read this as a best case."
    assert found.margin_db == path().margin_db


def test_usable_needs_both_directions() -> None:
    one_deaf = path(MOBILE, relay=replace(RELAY, sensitivity_dbm=-80.0))
    assert one_deaf.talk_out.margin_db > 10
    assert not one_deaf.verdict().usable
    assert path(MOBILE, loss_in_db=120.0, loss_out_db=120.0).verdict().label == "solid"
    assert not path(MOBILE).verdict(minimum_margin_db=90.0).usable


def test_simplex_between_two_like_stations_is_even() -> None:
    pair = path(
        MOBILE, MOBILE, frequency_in_mhz=146.52, frequency_out_mhz=146.52, loss_in_db=130, loss_out_db=130
    )
    assert pair.imbalance_db == 0.0
    assert pair.talk_in.margin_db == pair.talk_out.margin_db


def test_what_if_changes_one_thing_and_says_what_it_buys() -> None:
    change = link.what_if(path(), "10 W instead of 5 W", station=replace(HANDHELD, power_w=10.0))
    assert change.talk_in_gain_db == pytest.approx(3.01)
    assert change.talk_out_gain_db == 0.0
    assert change.before == path()
    assert change.after.inputs.station.power_w == 10.0


def test_what_if_takes_the_path_as_well() -> None:
    raised = link.what_if(path(), "antenna 10 m up", loss_in_db=115.0, loss_out_db=115.1)
    assert raised.talk_in_gain_db == pytest.approx(15.0)
    assert raised.talk_out_gain_db == pytest.approx(15.0)


def test_stored_inputs_give_the_same_answer_again() -> None:
    assert link.evaluate(path(INDOORS).inputs) == path(INDOORS)


@pytest.mark.parametrize("power_w", [0.0, -5.0])
def test_it_refuses_a_power_that_is_not_above_zero(power_w: float) -> None:
    with pytest.raises(NotPositiveError, match="power_w"):
        replace(HANDHELD, power_w=power_w)


@pytest.mark.parametrize("field", ["power_w", "antenna_gain_dbi", "sensitivity_dbm", "body_loss_db"])
@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_it_refuses_a_figure_that_is_no_number(field: str, value: float) -> None:
    with pytest.raises(NotFiniteError, match=field):
        replace(HANDHELD, **{field: value})


@pytest.mark.parametrize("field", ["duplexer_loss_db", "body_loss_db", "equipment_spread_db"])
def test_it_refuses_a_negative_loss(field: str) -> None:
    with pytest.raises(terminal.TerminalError, match="negative") as caught:
        replace(HANDHELD, **{field: -0.1})
    assert caught.value.quantity == field


def test_it_refuses_places_buildings_and_cables_it_does_not_know() -> None:
    with pytest.raises(noise.UnknownNoiseClassError):
        replace(HANDHELD, noise_class="moon")
    with pytest.raises(UnknownBuildingError):
        replace(HANDHELD, indoors="tent")
    with pytest.raises(UnknownCableError):
        path(replace(HANDHELD, feedline=Feedline("bell_wire", 3.0)))


def test_it_refuses_a_receiver_better_than_thermal_noise() -> None:
    with pytest.raises(noise.ReceiverNoiseError, match="best possible"):
        replace(HANDHELD, sensitivity_dbm=-140.0)


@pytest.mark.parametrize(
    "change",
    [
        {"loss_in_db": -1.0},
        {"loss_out_db": -1.0},
        {"location_sigma_db": -0.1},
        {"model_error_db": -6.0},
        {"loss_in_db": math.nan},
        {"required_db": math.inf},
        {"frequency_in_mhz": 14.2},
        {"frequency_out_mhz": -146.0},
    ],
)
def test_it_refuses_a_path_that_cannot_be(change: dict[str, float]) -> None:
    with pytest.raises(PropagationError):
        path(MOBILE, **change)
