"""Coverage runs: one for identical inputs, stale when an input changes, stopped, begun again, cleared away."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import TestCase

from relays import tasks
from relays.coverage import runs, working
from relays.models import CoverageRun, Relay
from tests.conftest import NOW
from tests.coverage.conftest import files_in
from tests.coverage.hills import hills

State = CoverageRun.State
A_MINUTE = dt.timedelta(minutes=1)


def test_asked_twice_it_is_one_run(hill_relay: Relay) -> None:
    first, second = runs.ask(hill_relay, now=NOW), runs.ask(hill_relay, now=NOW + A_MINUTE)
    assert first == second
    assert first.asked_at == second.asked_at == NOW


def test_the_database_keeps_a_second_one_out(hill_relay: Relay) -> None:
    run = runs.ask(hill_relay, now=NOW)
    run.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        run.save()


def test_the_run_keeps_what_it_was_computed_from(done_run: CoverageRun, hill_relay: Relay) -> None:
    assert done_run.inputs["antenna_height_m"] == hill_relay.antenna_height_m
    assert done_run.frequency_mhz == 146.43
    assert done_run.receiver_heights_m == [1.5, 2.0, 10.0]
    assert done_run.radials_done == done_run.radials_total > 0
    assert done_run.ends_early


@pytest.mark.parametrize(
    ("field", "value"),
    [("antenna_height_m", 19), ("output_mhz", "147.060"), ("polarization", "horizontal")],
)
def test_what_the_raster_depends_on_makes_it_stale(
    field: str, value: Any, done_run: CoverageRun, hill_relay: Relay
) -> None:
    setattr(hill_relay, field, value)
    hill_relay.save()
    hill_relay.refresh_from_db()
    assert runs.fresh(hill_relay) is None


@pytest.mark.parametrize(
    ("field", "value"),
    [("power_w", 5), ("antenna_gain_dbi", 2), ("duplexer_loss_db", 3), ("sensitivity_uv", 1), ("notes", "x")],
)
def test_what_is_only_subtracted_leaves_it_fresh(
    field: str, value: Any, done_run: CoverageRun, hill_relay: Relay
) -> None:
    setattr(hill_relay, field, value)
    hill_relay.save()
    assert runs.fresh(hill_relay) == done_run


def test_a_moved_site_makes_it_stale(done_run: CoverageRun, hill_relay: Relay) -> None:
    hill_relay.site.latitude_deg += 0.001
    assert runs.fresh(hill_relay) is None


def test_new_ground_makes_it_stale(
    done_run: CoverageRun, hill_relay: Relay, import_heights: Callable[..., Any]
) -> None:
    import_heights(hills() + 1, name="again.tif")
    assert runs.fresh(hill_relay) is None


def test_put_back_as_it_was_it_is_fresh_again(done_run: CoverageRun, hill_relay: Relay) -> None:
    hill_relay.antenna_height_m = 40
    assert runs.fresh(hill_relay) is None
    hill_relay.antenna_height_m = 18
    assert runs.fresh(hill_relay) == done_run


def test_a_run_nobody_has_begun_goes_when_its_inputs_do(hill_relay: Relay) -> None:
    old = runs.ask(hill_relay, now=NOW)
    Relay.objects.update(antenna_height_m=30)
    (new,) = runs.ask_all(now=NOW)
    assert list(CoverageRun.objects.all()) == [new]
    assert new != old


def test_a_run_under_way_for_inputs_that_are_gone_is_stopped(hill_relay: Relay) -> None:
    old = runs.ask(hill_relay, now=NOW)
    assert working.claim(old.pk, now=NOW)
    Relay.objects.update(antenna_height_m=30)
    runs.ask_all(now=NOW)
    old.refresh_from_db()
    assert old.cancel_asked


def test_a_waiting_run_is_cancelled_at_once(hill_relay: Relay) -> None:
    run = runs.ask(hill_relay, now=NOW)
    assert runs.cancel(run, now=NOW)
    run.refresh_from_db()
    assert run.state == State.CANCELLED
    assert runs.due(now=NOW) == []


def test_what_a_steward_stopped_stays_stopped(hill_relay: Relay) -> None:
    runs.cancel(runs.ask(hill_relay, now=NOW), now=NOW)
    (run,) = runs.ask_all(now=NOW + A_MINUTE)
    assert run.state == State.CANCELLED


def test_a_finished_run_is_not_cancelled(done_run: CoverageRun) -> None:
    assert not runs.cancel(done_run, now=NOW)


def test_a_run_that_failed_begins_again(done_run: CoverageRun) -> None:
    CoverageRun.objects.update(state=State.FAILED, raster="", attempts=3)
    done_run.refresh_from_db()
    assert runs.again(done_run, now=NOW + A_MINUTE)
    done_run.refresh_from_db()
    assert (done_run.state, done_run.attempts) == (State.WAITING, 0)
    assert not runs.again(done_run, now=NOW)


def test_a_raster_that_is_there_is_not_given_up_for_another_try(done_run: CoverageRun) -> None:
    assert not runs.again(done_run, now=NOW + A_MINUTE)
    done_run.refresh_from_db()
    assert done_run.state == State.DONE
    assert Path(done_run.raster.path).exists()


def test_a_run_whose_file_is_gone_begins_again(done_run: CoverageRun, hill_relay: Relay) -> None:
    Path(done_run.raster.path).unlink()
    assert runs.ask(hill_relay, now=NOW).state == State.WAITING


def test_the_task_asks_for_every_relay_and_works_them_out(
    hill_relay: Relay, other_relay: Relay, monkeypatch: pytest.MonkeyPatch
) -> None:
    woken: list[int] = []
    monkeypatch.setattr(tasks, "wake", lambda task, run_id: woken.append(run_id))
    assert tasks.refresh_coverage() == 2
    assert [tasks.compute_coverage(run_id) for run_id in woken] == ["done", "done"]
    assert tasks.refresh_coverage() == 0


@pytest.mark.parametrize("changed", ["relay", "site", "ground"])
def test_a_change_wakes_a_worker(
    changed: str, hill_relay: Relay, hill_ground: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent: list[str] = []
    monkeypatch.setattr(
        "clubops.wake.Task.apply_async", lambda self, *args, **options: sent.append(self.name), raising=False
    )
    with TestCase.captureOnCommitCallbacks(execute=True):
        {"relay": hill_relay, "site": hill_relay.site, "ground": hill_ground.tile}[changed].save()
    assert "relays.tasks.refresh_coverage" in sent


def test_old_runs_and_orphans_are_cleared_away(done_run: CoverageRun, hill_relay: Relay, store: Path) -> None:
    Relay.objects.update(antenna_height_m=30)
    hill_relay.refresh_from_db()
    current = working.compute(runs.ask(hill_relay, now=NOW).pk, clock=lambda: NOW)
    assert current is not None
    later = NOW + dt.timedelta(days=8)
    for entry in store.iterdir():
        os.utime(entry, (NOW.timestamp(), NOW.timestamp()))
    (store / "incoming-x").mkdir()
    os.utime(store / "incoming-x", (NOW.timestamp(), NOW.timestamp()))
    assert runs.tidy(now=later) == 1
    assert files_in(store) == [Path(current.raster.name).name]


def test_nothing_of_today_is_cleared_away(done_run: CoverageRun, store: Path) -> None:
    (store / "orphan.tif").write_bytes(b"just written by somebody")
    assert runs.tidy(now=NOW + dt.timedelta(days=30)) == 0
    assert Path(done_run.raster.name).name in files_in(store)
