"""The worker's side of a run: leased, published whole or not at all, failures as sentences."""

from __future__ import annotations

import datetime as dt
import errno
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from relays import terrain_store
from relays.coverage import rasters, runs, sweeps, working
from relays.models import CoverageRun, Relay
from relays.propagation.raster import Coverage
from tests.conftest import NOW
from tests.coverage.conftest import files_in
from tests.coverage.hills import hills

State = CoverageRun.State
A_LEASE = dt.timedelta(seconds=61)


class Clock:
    """Moves on by some seconds whenever it is read."""

    def __init__(self, step_s: float = 0.0) -> None:
        self.now, self.step = NOW, dt.timedelta(seconds=step_s)

    def __call__(self) -> dt.datetime:
        self.now += self.step
        return self.now


@pytest.fixture
def waiting(hill_relay: Relay) -> CoverageRun:
    return runs.ask(hill_relay, now=NOW)


def test_progress_is_told_while_it_works(waiting: CoverageRun, monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[tuple[int, int]] = []
    moved = working._Held.moved

    def watch(held: Any, done: int, total: int) -> None:
        moved(held, done, total)
        told.append(tuple(CoverageRun.objects.values_list("radials_done", "radials_total").get()))

    monkeypatch.setattr(working._Held, "moved", watch)
    working.compute(waiting.pk, clock=Clock(1.5))
    assert len(told) > 3
    assert told == sorted(told)
    assert told[-1][0] == told[-1][1]


def test_the_heartbeat_prolongs_the_lease(waiting: CoverageRun) -> None:
    run = working.claim(waiting.pk, now=NOW)
    assert run is not None
    held = working._Held(run, Clock(30))
    held.moved(1, 10)
    run.refresh_from_db()
    assert run.lease_until > NOW + A_LEASE
    assert runs.due(now=NOW + A_LEASE) == []


def test_a_run_in_good_hands_is_not_to_be_had(waiting: CoverageRun) -> None:
    assert working.claim(waiting.pk, now=NOW)
    assert working.claim(waiting.pk, now=NOW + dt.timedelta(seconds=50)) is None
    assert working.compute(waiting.pk, clock=lambda: NOW) is None


def test_a_lost_workers_run_is_taken_up_again(waiting: CoverageRun) -> None:
    working.claim(waiting.pk, now=NOW)
    assert runs.due(now=NOW + A_LEASE) == [waiting.pk]
    run = working.compute(waiting.pk, clock=lambda: NOW + A_LEASE)
    assert run is not None
    assert (run.state, run.attempts) == (State.DONE, 2)


def test_a_worker_that_lost_its_lease_publishes_nothing(waiting: CoverageRun, store: Path) -> None:
    slow = working.claim(waiting.pk, now=NOW)
    assert slow is not None
    quick = working.claim(waiting.pk, now=NOW + A_LEASE)
    with pytest.raises(working.LeaseLost):
        working._publish(working._Held(slow, Clock()), *swept(slow))
    waiting.refresh_from_db()
    assert (waiting.state, waiting.lease) == (State.RUNNING, quick.lease)
    assert files_in(store) == []


def swept(run: CoverageRun) -> tuple[sweeps.Prepared, Coverage]:
    prepared = sweeps.prepare(run.inputs, most_posts=working.MOST_POSTS, wants_horizons=True)
    return prepared, sweeps.sweep(prepared)


def test_a_run_that_kills_its_workers_is_given_up(waiting: CoverageRun) -> None:
    now = NOW
    for _ in range(working.MOST_ATTEMPTS):
        assert working.claim(waiting.pk, now=now)
        now += A_LEASE
    assert working.claim(waiting.pk, now=now) is None
    waiting.refresh_from_db()
    assert (waiting.state, waiting.error) == (State.FAILED, working.NEVER_FINISHED)
    assert runs.due(now=now + dt.timedelta(days=1)) == []


def test_a_run_is_stopped_between_two_sectors(
    waiting: CoverageRun, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    moved = working._Held.moved

    def press_stop(held: Any, done: int, total: int) -> None:
        runs.cancel(waiting, now=NOW)
        moved(held, done, total)

    monkeypatch.setattr(working._Held, "moved", press_stop)
    run = working.compute(waiting.pk, clock=Clock(1.5))
    assert run is not None
    assert (run.state, run.radials_done < run.radials_total) == (State.CANCELLED, True)
    assert files_in(store) == []


def test_stop_pressed_at_the_last_moment_still_counts(
    waiting: CoverageRun, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pack = rasters.as_file

    def press_stop(*args: Any, **tags: Any) -> bytes:
        runs.cancel(waiting, now=NOW)
        return pack(*args, **tags)

    monkeypatch.setattr(rasters, "as_file", press_stop)
    run = working.compute(waiting.pk, clock=lambda: NOW)
    assert run is not None
    assert run.state == State.CANCELLED
    assert files_in(store) == []


def test_a_full_disk_leaves_a_sentence_and_nothing_else(
    waiting: CoverageRun, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    run = working.compute(waiting.pk, clock=lambda: NOW)
    assert run is not None
    assert run.state == State.FAILED
    assert run.error.startswith("The raster could not be stored (No space left on device)")
    assert str(store) not in run.error
    assert files_in(store) == []


def test_what_may_pass_is_tried_again_later(waiting: CoverageRun, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(rasters, "as_file", lambda *_, **__: (_ for _ in ()).throw(MemoryError))
        run = working.compute(waiting.pk, clock=lambda: NOW)
    assert run is not None
    assert "not enough memory" in run.error
    assert runs.due(now=NOW + dt.timedelta(minutes=4)) == []
    assert runs.due(now=NOW + dt.timedelta(minutes=6)) == [run.pk]
    again = working.compute(run.pk, clock=lambda: NOW + dt.timedelta(minutes=6))
    assert again is not None
    assert (again.state, again.error) == (State.DONE, "")


def test_a_disk_that_stays_full_is_not_tried_for_ever(
    waiting: CoverageRun, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rasters, "as_file", lambda *_, **__: (_ for _ in ()).throw(MemoryError))
    now = NOW
    for _ in range(working.MOST_ATTEMPTS):
        run = working.compute(waiting.pk, clock=lambda: now)  # noqa: B023  read at once
        now += dt.timedelta(hours=1)
    assert run is not None
    assert run.retry_at is None


def test_a_relay_off_the_ground_is_named(hill_relay: Relay, store: Path) -> None:
    hill_relay.site.latitude_deg = 36.5
    hill_relay.site.save()
    run = working.compute(runs.ask(hill_relay, now=NOW).pk, clock=lambda: NOW)
    assert run is not None
    assert run.state == State.FAILED
    assert run.error == "The relay itself stands outside the imported terrain; import the ground around it."
    assert files_in(store) == []


def test_no_ground_at_all_is_named(relay: Relay, store: Path) -> None:
    run = working.compute(runs.ask(relay, now=NOW).pk, clock=lambda: NOW)
    assert run is not None
    assert run.error.startswith("No terrain has been imported yet")


def test_an_absurd_radius_is_named(hill_relay: Relay, settings: Any) -> None:
    settings.COVERAGE_RADIUS_KM = 10_000
    run = working.compute(runs.ask(hill_relay, now=NOW).pk, clock=lambda: NOW)
    assert run is not None
    assert run.state == State.FAILED
    assert "The radius is 10000 km; it must be more than 0 and up to 3000 km." in run.error


def test_an_absurd_height_is_named(hill_relay: Relay) -> None:
    hill_relay.antenna_height_m = 90_000  # unsaved: the database refuses it
    run = working.compute(runs.ask(hill_relay, now=NOW).pk, clock=lambda: NOW)
    assert run is None or "3000" in run.error


def test_a_run_for_ground_that_was_replaced_is_dropped(
    waiting: CoverageRun, import_heights: Callable[..., Any], store: Path
) -> None:
    import_heights(hills() + 5, name="newer.tif")
    assert working.compute(waiting.pk, clock=lambda: NOW) is None
    assert not CoverageRun.objects.exists()
    assert files_in(store) == []


def test_a_hole_in_the_ground_is_not_crossed(
    hill_relay: Relay, import_heights: Callable[..., Any], tmp_path: Path
) -> None:
    terrain_store.TerrainTile.objects.all().delete()
    heights = hills()
    heights[20:60, 70:100] = np.nan
    import_heights(heights, name="holed.tif", nodata=float("nan"))
    hill_relay.site.latitude_deg, hill_relay.site.longitude_deg = 35.95, -83.97
    hill_relay.site.save()
    run = working.compute(runs.ask(hill_relay, now=NOW).pk, clock=lambda: NOW)
    assert run is not None
    assert run.state == State.DONE
    raster = rasters.read(Path(run.raster.path), 1.5)
    assert np.isnan(raster.loss_db[30:50, 75:95]).all()
    assert np.isnan(raster.loss_db).sum() > 30 * 40, "the shadow behind the hole is not known either"


def test_a_relay_that_is_removed_meanwhile_leaves_nothing(
    waiting: CoverageRun, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pack = rasters.as_file

    def remove(*args: Any, **tags: Any) -> bytes:
        Relay.objects.all().delete()
        return pack(*args, **tags)

    monkeypatch.setattr(rasters, "as_file", remove)
    assert working.compute(waiting.pk, clock=lambda: NOW) is None
    assert files_in(store) == []


def test_a_crash_between_file_and_row_shows_nothing(
    waiting: CoverageRun, hill_relay: Relay, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A killed process runs no clean-up: the file stays, no row names it, and the run is done again."""

    class Killed(BaseException):
        pass

    def die(*_: Any) -> None:
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr(working, "_name_in_row", die)
        patch.setattr(Path, "unlink", lambda *_, **__: None)
        with pytest.raises(Killed):
            working.compute(waiting.pk, clock=lambda: NOW)
    assert len(files_in(store)) == 1
    assert runs.fresh(hill_relay) is None
    run = working.compute(waiting.pk, clock=lambda: NOW + A_LEASE)
    assert run is not None
    assert run.state == State.DONE
