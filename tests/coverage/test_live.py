"""Coverage on the spot: the stored raster where it answers, a bounded sweep where it does not."""

from __future__ import annotations

import gzip
import json
import struct
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from relays.coverage import live, packed
from relays.models import CoverageRun, Relay
from relays.propagation.errors import AntennaHeightRangeError, PropagationError
from relays.propagation.terrain import LeavesTerrain

QUARTER_DB = 0.125 + 1e-3  # half a step of what is sent while a slider moves


def unpack(content: bytes) -> tuple[dict[str, Any], npt.NDArray[np.uint16]]:
    """What the map's script does, in other words: back from the bytes to one code a pixel."""
    body = gzip.decompress(content)
    (length,) = struct.unpack("<I", body[:4])
    head = json.loads(body[4 : 4 + length])
    count = head["rows"] * head["columns"]
    low, high = np.frombuffer(body, np.uint8, 2 * count, 4 + length).reshape(2, count).astype(np.uint32)
    zigzag = low | (high << 8)
    step = ((zigzag >> 1) ^ (0 - (zigzag & 1))).reshape(head["rows"], head["columns"])
    step[:, 0] = np.cumsum(step[:, 0], dtype=np.uint32)
    return head, (np.cumsum(step, axis=1, dtype=np.uint32) & 0xFFFF).astype(np.uint16)


def test_the_stored_raster_answers_as_it_is(done_run: CoverageRun, hill_relay: Relay) -> None:
    asked = live.question(hill_relay, receiver_height_m=10.0, detail="draft")
    assert (asked.run, asked.detail) == (done_run, "fine")


@pytest.mark.parametrize(
    ("antenna_m", "receiver_m"), [(19.0, 1.5), (None, 3.0)], ids=["another antenna", "another receiver"]
)
def test_what_is_not_stored_is_swept(
    antenna_m: float | None, receiver_m: float, done_run: CoverageRun, hill_relay: Relay
) -> None:
    asked = live.question(hill_relay, antenna_height_m=antenna_m, receiver_height_m=receiver_m)
    assert asked.run is None
    raster = live.loss(asked)
    assert raster.antenna_height_m == (antenna_m or 18.0)
    assert raster.receiver_height_m == receiver_m


def test_a_stale_raster_does_not_answer(done_run: CoverageRun, hill_relay: Relay) -> None:
    hill_relay.site.latitude_deg += 0.002
    asked = live.question(hill_relay, receiver_height_m=1.5)
    assert asked.run is None


def test_the_sweep_on_the_spot_is_the_stored_one(done_run: CoverageRun, hill_relay: Relay) -> None:
    """The same inputs by the other way: a hundredth is the stored file's own rounding."""
    asked = live.question(hill_relay, receiver_height_m=1.5)
    stored = live.loss(asked)
    swept = live._swept(asked)
    assert np.nanmax(np.abs(stored.loss_db - swept.loss_db)) < 0.01


def test_a_stored_raster_that_was_lost_is_swept_instead(done_run: CoverageRun, hill_relay: Relay) -> None:
    Path(done_run.raster.path).write_bytes(b"no raster")
    raster = live.loss(live.question(hill_relay, receiver_height_m=1.5))
    assert np.isfinite(raster.loss_db).any()


def test_a_draft_is_near_the_fine_answer(hill_relay: Relay) -> None:
    """95 % within 2 dB is what docs/propagation.md promises of posts as spacing on real ground."""
    draft, fine = (
        live.loss(live.question(hill_relay, antenna_height_m=25, receiver_height_m=1.5, detail=detail))
        for detail in ("draft", "fine")
    )
    apart = np.abs(draft.loss_db - fine.loss_db)
    assert np.nanquantile(apart, 0.95) < 2.0


def test_the_work_is_bounded(hill_relay: Relay, monkeypatch: pytest.MonkeyPatch) -> None:
    bounds = live.Bounds(most_posts=900, samples_across=20, posts_a_sample=1.0, step_db=0.25)
    monkeypatch.setitem(live.BOUNDS, "draft", bounds)
    raster = live.loss(live.question(hill_relay, antenna_height_m=25, receiver_height_m=1.5, detail="draft"))
    assert raster.loss_db.size <= 900
    assert raster.spacing_m >= 1000 * 5 / 20


def test_more_than_two_at_a_time_are_sent_away(hill_relay: Relay, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live, "_PATIENCE_S", 0.01)
    asked = live.question(hill_relay, receiver_height_m=1.5)
    for _ in range(live._SLOTS):
        assert live._slots.acquire(blocking=False)
    try:
        with pytest.raises(live.Busy, match="Try again in a few seconds"):
            live.loss(asked)
    finally:
        for _ in range(live._SLOTS):
            live._slots.release()
    assert np.isfinite(live.loss(asked).loss_db).any()


@pytest.mark.parametrize(
    ("antenna_m", "receiver_m"), [(0.2, 1.5), (9000.0, 1.5), (18.0, 0.0), (18.0, 5000.0)]
)
def test_an_absurd_height_is_refused_with_its_range(
    antenna_m: float, receiver_m: float, hill_relay: Relay
) -> None:
    asked = live.question(hill_relay, antenna_height_m=antenna_m, receiver_height_m=receiver_m)
    with pytest.raises(AntennaHeightRangeError, match="3000"):
        live.loss(asked)


def test_a_relay_off_the_ground_is_named(hill_relay: Relay) -> None:
    hill_relay.site.longitude_deg = -80.0
    with pytest.raises(LeavesTerrain, match="outside the imported terrain"):
        live.loss(live.question(hill_relay, receiver_height_m=1.5))


def test_an_absurd_radius_is_named(hill_relay: Relay, settings: Any) -> None:
    settings.COVERAGE_RADIUS_KM = 10_000
    with pytest.raises(PropagationError, match="10000 km"):
        live.loss(live.question(hill_relay, receiver_height_m=1.5))


@pytest.mark.parametrize("step_db", [0.1, 0.25])
def test_what_a_browser_unpacks_is_the_loss(step_db: float, done_run: CoverageRun, hill_relay: Relay) -> None:
    raster = live.loss(live.question(hill_relay, receiver_height_m=1.5))
    head, codes = unpack(packed.packed(raster, (35.953, -83.948), step_db=step_db))
    known = codes >= packed.FIRST
    assert np.array_equal(known, ~np.isnan(raster.loss_db))
    sent = (codes[known].astype(float) - packed.FIRST) * head["step_db"]
    assert np.abs(sent - raster.loss_db[known]).max() <= QUARTER_DB
    assert (head["rows"], head["columns"]) == raster.loss_db.shape


def test_a_browser_tells_beyond_from_not_known(
    done_run: CoverageRun, hill_relay: Relay, settings: Any
) -> None:
    settings.COVERAGE_RADIUS_KM = 2
    raster = live.loss(live.question(hill_relay, receiver_height_m=1.5))
    holed = raster.loss_db.copy()
    row, column = (size // 2 for size in holed.shape)
    holed[row, column] = np.nan
    object.__setattr__(raster, "loss_db", holed)
    _, codes = unpack(packed.packed(raster, (35.953, -83.948), step_db=0.1))
    assert codes[row, column] == packed.UNKNOWN
    assert codes[0, 0] == packed.BEYOND


def test_jumps_of_any_size_survive_the_packing() -> None:
    codes = np.random.default_rng(5).integers(0, 65536, (37, 53)).astype(np.uint16)
    body = packed._bytes_of(codes)
    head = json.dumps({"rows": 37, "columns": 53}).encode()
    _, back = unpack(gzip.compress(struct.pack("<I", len(head)) + head + body))
    assert np.array_equal(back, codes)


def test_too_many_posts_for_a_browser_are_thinned(done_run: CoverageRun, hill_relay: Relay) -> None:
    raster = live.loss(live.question(hill_relay, receiver_height_m=1.5))
    thin = packed.thinned(raster, raster.loss_db.size // 5)
    assert thin.loss_db.size <= raster.loss_db.size // 5
    assert np.array_equal(thin.loss_db, raster.loss_db[::3, ::3], equal_nan=True)
    assert thin.lattice.longitude_deg[4] == pytest.approx(raster.lattice.longitude_deg[12])


def test_the_same_question_has_the_same_key_and_another_has_not(
    done_run: CoverageRun, hill_relay: Relay
) -> None:
    keys = {
        live.question(hill_relay, antenna_height_m=antenna, receiver_height_m=height, detail=detail).key
        for antenna in (18.0, 20.0)
        for height in (1.5, 3.0)
        for detail in ("draft", "fine")
    }
    # The stored raster is as fine as it gets: draft and fine are one answer there.
    assert len(keys) == 7
