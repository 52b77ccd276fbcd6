"""What a trend says, and when it holds its tongue."""

from __future__ import annotations

import datetime as dt
import random
from statistics import NormalDist

import pytest
from hypothesis import given
from hypothesis import strategies as st

from relays.upkeep import trend
from relays.upkeep.trend import Point
from tests.conftest import NOW

DAY = dt.timedelta(days=1)


def points(values, every_days=30.0):
    return [Point(NOW + index * every_days * DAY, value) for index, value in enumerate(values)]


def straight(slope_a_day, count=12, start=13.0, noise=0.0, seed=1):
    dice = random.Random(seed)
    return points([start + slope_a_day * 30 * index + dice.gauss(0, noise) for index in range(count)])


def test_the_quantile_is_that_of_90_per_cent():
    expected = NormalDist().inv_cdf(0.95)
    assert abs(trend.QUANTILE - expected) < 1e-12


def test_a_straight_fall_is_found_and_meets_the_limit_in_time():
    found = trend.trend(straight(-0.001))
    meets = trend.crossing(found, 12.6, None)
    assert found.standing == "falling"
    assert found.slope == pytest.approx(-0.001)
    # 13 less 0.001 a day is 12.6 after 400 days.
    assert meets.on == meets.earliest == meets.latest == (NOW + 400 * DAY).date()


def test_a_rise_is_measured_against_the_high_limit_alone():
    found = trend.trend(straight(0.001))
    assert found.standing == "rising"
    assert trend.crossing(found, 12.9, None) is None
    assert trend.crossing(found, 12.9, 13.4).limit == 13.4


def test_one_wild_reading_does_not_turn_it():
    rows = straight(-0.001)
    rows[5] = Point(rows[5].at, 99.0)
    assert trend.trend(rows).slope == pytest.approx(-0.001, rel=0.25)


def test_mere_scatter_is_no_trend():
    # 40 draws of pure noise: at 90 % about four of them look like a trend.
    seen = [trend.trend(straight(0.0, noise=0.1, seed=seed)).standing for seed in range(40)]
    assert seen.count("level") >= 32


@pytest.mark.parametrize(
    ("rows", "standing"),
    [
        ([], "too few"),
        (straight(-0.001, count=5), "too few"),
        (points([13.0, 12.9, 12.8, 12.7, 12.6, 12.5], every_days=5), "too short"),
        (points([12.5] * 8), "level"),
        (points([13.0, 12.9, 12.8, 12.7, 12.6, 12.5], every_days=0), "too short"),
    ],
)
def test_it_says_nothing_from_little(rows, standing):
    found = trend.trend(rows)
    assert found.standing == standing
    assert trend.crossing(found, 12.0, 14.0) is None


def test_it_speaks_no_further_ahead_than_it_looks_back():
    found = trend.trend(straight(-0.001))  # 330 days
    assert trend.crossing(found, found.level - 0.32, None) is not None
    assert trend.crossing(found, found.level - 0.34, None) is None


def test_a_limit_that_is_behind_already_is_not_reached_again():
    assert trend.crossing(trend.trend(straight(-0.001)), 12.9, None) is None


def test_doubt_widens_the_dates():
    meets = trend.crossing(trend.trend(straight(-0.001, noise=0.03)), 12.5, None)
    assert meets.latest is not None
    assert meets.earliest < meets.on < meets.latest


@given(st.lists(st.floats(-1e3, 1e3), min_size=6, max_size=15), st.floats(-50, 50), st.floats(0.1, 9))
def test_moving_and_stretching_the_values_moves_and_stretches_the_trend(values, shift, factor):
    plain = trend.trend(points(values))
    changed = trend.trend(points([factor * value + shift for value in values]))
    assert changed.slope == pytest.approx(factor * plain.slope, rel=1e-6, abs=1e-6)
    assert changed.level == pytest.approx(factor * plain.level + shift, rel=1e-6, abs=1e-4)


@given(st.lists(st.floats(-1e3, 1e3), min_size=6, max_size=15))
def test_the_interval_holds_the_slope(values):
    found = trend.trend(points(values))
    assert found.slope_low <= found.slope <= found.slope_high


def test_readings_beyond_two_hundred_are_left_out_oldest_first():
    rows = points([50.0] * 50 + [13.0] * 200, every_days=1)
    assert trend.trend(rows).count == trend.MOST_READINGS
    assert trend.trend(rows).standing == "level"
