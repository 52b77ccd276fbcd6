"""Every sample of 3000 random radials against `predict`, one path at a time: two million paths, by name only.

Receivers between the samples are compared too, a quarter as many. The default tests do the same for
fewer radials. About half an hour on one processor.
"""

from __future__ import annotations

import pytest

from tests.propagation.radials import random_case

pytestmark = pytest.mark.bench

SAME_DB = 1e-6


@pytest.mark.parametrize("hundred", range(30))
def test_every_sample_has_the_loss_of_its_own_path(hundred: int) -> None:
    for seed in range(100 * hundred, 100 * hundred + 100):
        case = random_case(seed)
        height = case.heights[0]
        swept = case.swept().loss_db[0]
        for k in range(case.first_sample(), case.samples):
            path = case.directly(k, height)
            assert case.on_a_step(path) or abs(path.loss_db - swept[k]) < SAME_DB, (seed, k)
        receivers = case.receivers(case.samples // 4, seed)
        between = case.swept(receivers).loss_db[0]
        for r in range(receivers.at.size):
            path = case.directly_to(receivers, r, height)
            assert case.on_a_step(path) or abs(path.loss_db - between[r]) < SAME_DB, (seed, r)
