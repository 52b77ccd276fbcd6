"""Frequency pairs against 47 CFR 97.205(b) (October 2024), 97.301(a) (2021) and the IARU Region 1 band plan.

The table of US cases follows from the segments that 97.205(b) closes to repeaters; the boundary case is our
own decision (an edge belongs to its segment), stated in the module.
"""

import re
from decimal import Decimal

import pytest

from relays import bands


def errors(output: str, input_: str, profile: str = "us") -> list[str]:
    problems = bands.check_pair(Decimal(output), Decimal(input_), profile)
    return [problem.field for problem in problems if problem.is_error]


def warnings(output: str, input_: str, profile: str = "us") -> list[str]:
    problems = bands.check_pair(Decimal(output), Decimal(input_), profile)
    return [problem.sentence for problem in problems if not problem.is_error]


# Band edges, 47 CFR 97.301(a), 2021
EDGES = [
    ("region1", "2 m", "144", "146"),
    ("region2", "2 m", "144", "148"),
    ("region3", "2 m", "144", "148"),
    ("us", "2 m", "144", "148"),
    ("region1", "70 cm", "430", "440"),
    ("region2", "70 cm", "420", "450"),
    ("region3", "70 cm", "430", "440"),
    ("us", "70 cm", "420", "450"),
]


@pytest.mark.parametrize(("profile", "name", "low", "high"), EDGES)
def test_a_band_holds_its_edges_and_nothing_beyond(profile, name, low, high):
    step = Decimal("0.0001")
    for inside in (Decimal(low), Decimal(high)):
        assert bands.band_of(inside, profile).name == name
    for outside in (Decimal(low) - step, Decimal(high) + step):
        assert bands.band_of(outside, profile) is None


# 47 CFR 97.205(b): a repeater may work only outside 144.0-144.5, 145.5-146.0, 431.0-433.0 and 435.0-438.0
US_PAIRS = [
    ("146.940", "146.340", []),
    ("145.470", "144.870", []),
    ("145.550", "144.950", ["output_mhz"]),
    ("145.100", "144.500", []),
    ("442.000", "447.000", []),
    ("436.000", "441.000", ["output_mhz"]),
    ("147.000", "144.400", ["input_mhz"]),
    ("145.600", "145.700", ["output_mhz", "input_mhz"]),
    ("432.000", "437.000", ["output_mhz", "input_mhz"]),
    ("430.500", "433.500", []),
    ("152.000", "151.400", ["output_mhz", "input_mhz"]),
]


@pytest.mark.parametrize(("output", "input_", "fields"), US_PAIRS)
def test_us_pairs(output, input_, fields):
    assert errors(output, input_) == fields


def test_an_edge_belongs_to_its_segment_but_is_warned_of():
    for edge in ("144.500", "145.500"):
        assert errors("147.000", edge) == []
        assert any(f"too near the edge at {edge} MHz" in sentence for sentence in warnings("147.000", edge))
    assert errors("147.000", "144.4999") == ["input_mhz"]
    assert not any("edge" in sentence for sentence in warnings("147.000", "144.508"))
    assert any("edge" in sentence for sentence in warnings("147.000", "144.507"))


def test_between_145_5_and_145_8_a_repeater_is_refused_although_a_link_is_not():
    # 97.201(b) closes 145.8-146.0 to auxiliary stations, 97.205(b) closes 145.5-146.0 to repeaters
    assert errors("145.650", "145.050") == ["output_mhz"]


def test_a_refusal_says_where_a_repeater_may_be():
    (problem,) = bands.check_pair(Decimal("145.550"), Decimal("144.950"), "us")
    assert problem.sentence == (
        "145.550 MHz is where no repeater may work in the US; on 2 m one may from 144.500 to 145.500 MHz "
        "or from 146.000 to 148.000 MHz (47 CFR 97.205(b))."
    )


# FCC licence questions T2A01 and T2A03; IARU Region 1 band plan, with its national 70 cm pairs
USUAL = [
    ("146.940", "146.340", "us"),
    ("147.150", "147.750", "us"),
    ("442.000", "447.000", "us"),
    ("447.000", "442.000", "us"),
    ("145.600", "145.000", "region1"),
    ("145.775", "145.175", "region1"),
    ("434.600", "433.000", "region1"),
    ("434.975", "433.375", "region1"),
    ("438.650", "431.050", "region1"),
    ("439.425", "431.825", "region1"),
    ("430.025", "431.625", "region1"),
    ("433.000", "434.600", "region1"),
    ("146.700", "146.100", "region3"),
    ("438.525", "433.525", "region3"),
]


@pytest.mark.parametrize(("output", "input_", "profile"), USUAL)
def test_a_usual_pair_has_no_problem_at_all(output, input_, profile):
    assert bands.check_pair(Decimal(output), Decimal(input_), profile) == []


def test_an_unusual_offset_is_a_warning_that_gives_the_usual_one():
    (sentence,) = warnings("146.940", "146.440")
    assert sentence == "The offset is -0.500 MHz; on 2 m it is usually 0.6 MHz, up or down."


def test_region_1_warns_of_a_pair_outside_the_plan():
    assert errors("145.400", "144.800", "region1") == []
    assert any(
        "elsewhere: output 145.594 to 145.7935 MHz" in each for each in warnings("145.4", "144.8", "region1")
    )


@pytest.mark.parametrize(
    ("frequency", "profile"),
    [("146.520", "us"), ("446.000", "us"), ("145.500", "region1"), ("433.500", "region1")],
)
def test_the_calling_channel_is_named(frequency, profile):
    # FCC licence question T2A02; IARU Region 1 band plan
    (problem,) = bands.check_simplex(Decimal(frequency), profile)
    assert problem.severity == "warning"
    assert f"calling channel {frequency} MHz" in problem.sentence


def test_one_frequency_for_both_is_refused():
    assert errors("146.940", "146.940") == ["input_mhz"]


def test_a_pair_across_two_bands_is_a_warning():
    assert errors("146.940", "447.000") == []
    assert any("different bands" in sentence for sentence in warnings("146.940", "447.000"))


def test_a_satellite_segment_is_a_warning_where_no_law_closes_it():
    assert errors("145.900", "145.300", "region2") == []
    assert any("among the satellites" in sentence for sentence in warnings("145.900", "145.300", "region2"))


@pytest.mark.parametrize(("value", "meant"), [("146940", "146.940"), ("446000", "446.000")])
def test_kilohertz_given_for_megahertz_are_recognised(value, meant):
    (problem,) = bands.check_simplex(Decimal(value), "us")
    assert f"Was {meant} MHz meant?" in problem.sentence


@pytest.mark.parametrize("value", ["0", "-146.94", "NaN", "Infinity", "223.5"])
def test_what_is_in_no_band_is_refused_with_the_bands(value):
    (problem,) = bands.check_simplex(Decimal(value), "region1")
    assert problem.is_error
    assert re.search(r"2 m \(144.000 to 146.000 MHz\) or 70 cm \(430.000 to 440.000 MHz\)", problem.sentence)


def test_an_unknown_profile_is_a_problem_of_its_own_field():
    for problems in (
        bands.check_pair(Decimal("146.94"), Decimal("146.34"), "mars"),
        bands.check_simplex(Decimal("146.52"), "mars"),
    ):
        (problem,) = problems
        assert (problem.field, problem.is_error) == ("band_profile", True)
        assert "choose one of us, region1, region2, region3, other" in problem.sentence


def test_other_checks_the_widest_edges_alone():
    assert bands.check_pair(Decimal("145.55"), Decimal("144.1"), "other") == []
    assert errors("450.1", "444", "other") == ["output_mhz"]


def test_every_profile_says_what_it_leaves_to_others():
    assert all(profile.note.endswith(".") for profile in bands.PROFILES.values())
