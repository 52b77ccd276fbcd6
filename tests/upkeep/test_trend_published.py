"""Sen's own example: J. Am. Stat. Assoc. 63 (1968) 1379-1389, section 4, with the data of Graybill.

Slope 4, and 6 where the line through the medians begins, and the limits 26/7 and 35/8 at 93 %: the tests of the R
package deming (tests/thielsen.R). Those of SciPy (stats.theilslopes, alpha 0.07) have 4, 3.71 and 4.38. Sen's printed
limits are others: his list of slopes has mistakes, as the former notes.
"""

from __future__ import annotations

from statistics import NormalDist, median

import pytest

from relays.upkeep import trend

DAYS = [1.0, 2, 3, 4, 10, 12, 18]
VALUES = [9.0, 15, 19, 20, 45, 55, 78]


def test_the_slope_and_the_line():
    slope = median(trend.pair_slopes(DAYS, VALUES))
    assert slope == 4
    assert median(value - slope * day for day, value in zip(DAYS, VALUES, strict=True)) == 6


def test_the_limits_of_the_slope():
    quantile = NormalDist().inv_cdf(1 - 0.07 / 2)
    limits = trend.slope_interval(trend.pair_slopes(DAYS, VALUES), DAYS, quantile)
    assert limits == pytest.approx((26 / 7, 35 / 8))
