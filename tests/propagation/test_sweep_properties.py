"""What must hold for any radial, whatever the numbers."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from relays.propagation.sweep import sweep_profile
from tests.propagation.radials import Case

# The same arithmetic in another order; the sweep leaves out one term below 1e-8 dB.
SAME_DB = 1e-6

some = settings(max_examples=150, deadline=None)


@st.composite
def radials(draw: st.DrawFn) -> Case:
    samples = draw(st.integers(8, 60))
    lists = {"min_size": samples, "max_size": samples}
    metres = draw(st.sampled_from([st.integers(0, 30), st.integers(0, 900), st.floats(0.0, 900.0)]))
    clutter = st.sampled_from([0.0, 0.0, 5.0, 20.0])
    zones = draw(st.sampled_from([st.just(4), st.just(1), st.sampled_from([1, 3, 4])]))
    tx_height_m = draw(st.integers(2, 100))
    arguments: dict[str, Any] = {
        "frequency_ghz": draw(st.sampled_from([0.05, 0.146, 0.223, 0.45, 1.3])),
        "time_percent": draw(st.sampled_from([1.0, 5.0, 10.0, 49.9, 50.0])),
        "spacing_km": draw(st.sampled_from([0.0625, 0.09, 0.5, 2.0])),
        "ground_m": np.array(draw(st.lists(metres, **lists)), dtype=np.float64),
        "clutter_m": np.array(draw(st.lists(clutter, **lists))),
        "zone": np.array(draw(st.lists(zones, **lists))),
        "tx_height_m": float(tx_height_m),
        "rx_heights_m": (float(tx_height_m), draw(st.floats(1.0, 100.0))),
        "polarization": draw(st.sampled_from(["horizontal", "vertical"])),
        "latitude_deg": draw(st.sampled_from([-72.0, -30.0, 0.0, 47.0])),
        "azimuth_deg": draw(st.floats(0.0, 360.0)),
        "delta_n": draw(st.sampled_from([35.0, 45.0, 60.0])),
        "n0": 325.0,
    }
    return Case("drawn", arguments)


@some
@given(radials())
def test_every_sample_has_the_loss_of_its_own_path(case: Case) -> None:
    swept = case.swept()
    for k in range(case.first_sample(), case.samples):
        for row, height in enumerate(case.heights):
            direct = case.directly(k, height)
            if case.on_a_step(direct):
                continue
            assert abs(swept.before_floor_db[row, k] - direct.median_place_loss_db) < SAME_DB
            assert abs(swept.loss_db[row, k] - direct.loss_db) < SAME_DB
            assert abs(swept.floor_db[row, k] - direct.line_of_sight_loss_db) < SAME_DB


@some
@given(radials(), st.integers(0, 2**32 - 1))
def test_every_receiver_between_samples_has_the_loss_of_its_own_path(case: Case, seed: int) -> None:
    receivers = case.receivers(10, seed)
    swept = case.swept(receivers)
    for r in range(receivers.at.size):
        for row, height in enumerate(case.heights):
            direct = case.directly_to(receivers, r, height)
            assert case.on_a_step(direct) or abs(swept.loss_db[row, r] - direct.loss_db) < SAME_DB


@some
@given(radials())
def test_the_ground_beyond_a_sample_does_not_matter(case: Case) -> None:
    cut = case.samples - 3
    raised = np.concatenate([case.arguments["ground_m"][:cut], np.full(3, 2000.0)])
    other = sweep_profile(**{**case.arguments, "ground_m": raised})
    assert np.array_equal(other.loss_db[:, :cut], case.swept().loss_db[:, :cut])


@some
@given(radials())
def test_no_loss_is_below_the_line_of_sight(case: Case) -> None:
    swept = case.swept()
    assert np.all(np.isfinite(swept.before_floor_db))
    assert np.all(swept.loss_db >= swept.floor_db)
