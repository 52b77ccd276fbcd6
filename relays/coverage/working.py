"""The worker's side of a coverage run: claim it, sweep, publish the raster whole or not at all.

What a crash does at each point:

- before the claim, or while computing: the row keeps its lease, which lapses; the beat schedule finds the
  run again and another worker begins it afresh. A sweep takes seconds to minutes, so nothing of it is kept.
- after the file was moved into the store and before the row was committed: an orphan that no row names. The
  run is computed again; `tidy` clears the orphan.
- after the commit: done.

A worker that was only slow and lost its lease cannot publish: the last step is one conditional update that
must find its own lease.
"""

from __future__ import annotations

import datetime as dt
import secrets
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.db.models import F

from relays import stored_files
from relays.coverage import rasters, runs, skyline, sweeps
from relays.coverage.sweeps import Prepared
from relays.models import CoverageRun, Relay
from relays.propagation.errors import PropagationError
from relays.propagation.raster import Coverage, CoverageCancelled

Clock = Callable[[], dt.datetime]
State = CoverageRun.State

#: A circle of 80 km at 3 arc seconds; three heights of it take about 230 MB while computing.
MOST_POSTS = 4_000_000
MOST_ATTEMPTS = 5
RETRY_AFTER = dt.timedelta(minutes=5)
BEAT_EVERY = dt.timedelta(seconds=1)
NEVER_FINISHED = (
    f"It was begun {MOST_ATTEMPTS} times and the worker was lost each time; is there enough memory? "
    "A steward can start it again."
)


class LeaseLost(Exception):
    """Another worker has the run by now, or nobody: what was computed must not be published."""


def claim(run_id: int, *, now: dt.datetime) -> CoverageRun | None:
    """Take a run for this worker, or None if it is not to be had. One conditional update decides."""
    poisoned = CoverageRun.objects.filter(runs.abandoned(now), pk=run_id, attempts__gte=MOST_ATTEMPTS)
    if poisoned.update(**_over(now), state=State.FAILED, error=NEVER_FINISHED, retry_at=None):
        return None
    token = secrets.token_hex(16)
    taken = CoverageRun.objects.filter(runs.free(now), pk=run_id).update(
        state=State.RUNNING,
        lease=token,
        lease_until=now + _lease(),
        attempts=F("attempts") + 1,
        started_at=now,
        finished_at=None,
        error="",
        retry_at=None,
        radials_done=0,
        radials_total=0,
    )
    if not taken:
        return None
    return CoverageRun.objects.select_related("relay__site").get(pk=run_id)


def _lease() -> dt.timedelta:
    return dt.timedelta(seconds=settings.COVERAGE_LEASE_S)


def compute(run_id: int, *, clock: Clock, threads: int | None = None) -> CoverageRun | None:
    """Claim a run, sweep, and publish the raster. None if the run is not to be had.

    Failures end up in the row as a sentence: those that may pass (a full disk, no memory) are tried again a
    few times, the others when their inputs change or a steward says so.
    """
    run = claim(run_id, now=clock())
    if run is None:
        return None
    held = _Held(run, clock)
    try:
        prepared = sweeps.prepare(run.inputs, most_posts=MOST_POSTS, wants_horizons=True)
        coverage = sweeps.sweep(
            prepared,
            progress=held.moved,
            cancelled=lambda: held.cancel_asked,
            threads=threads,
        )
        _publish(held, prepared, coverage)
    except (LeaseLost, CoverageCancelled):
        held.settle(state=State.CANCELLED)
    except PropagationError as problem:
        held.settle(state=State.FAILED, error=str(problem)[:300])
    except (OSError, MemoryError) as problem:
        held.settle(state=State.FAILED, error=_passing(problem), retry_at=held.retry_at())
    _drop_if_stale(run)
    return CoverageRun.objects.filter(pk=run_id).first()


class _Held:
    """A run in the hands of this worker."""

    def __init__(self, run: CoverageRun, clock: Clock) -> None:
        self.run, self.clock = run, clock
        self.cancel_asked = False
        self._beat_at = clock()

    @property
    def mine(self) -> Any:
        return CoverageRun.objects.filter(pk=self.run.pk, state=State.RUNNING, lease=self.run.lease)

    def moved(self, done: int, total: int) -> None:
        """Say how far it is and that the worker lives; once a second is enough. Raises LeaseLost."""
        now = self.clock()
        if now - self._beat_at < BEAT_EVERY and done < total:
            return
        self._beat_at = now
        if not self.mine.update(radials_done=done, radials_total=total, lease_until=now + _lease()):
            raise LeaseLost
        self.cancel_asked = self.mine.filter(cancel_asked=True).exists()

    def settle(self, **outcome: Any) -> None:
        """End the run without a raster; nothing happens if another worker has it by now."""
        self.mine.update(**_over(self.clock()), **outcome)

    def retry_at(self) -> dt.datetime | None:
        tries = self.run.attempts
        return self.clock() + RETRY_AFTER * tries if tries < MOST_ATTEMPTS else None


def _over(now: dt.datetime) -> dict[str, Any]:
    return {"finished_at": now, "lease": "", "lease_until": None, "cancel_asked": False}


def _passing(problem: BaseException) -> str:
    """The cause in words, without paths of this machine."""
    if isinstance(problem, MemoryError):
        return "There was not enough memory for the raster; it is tried again later."
    cause = getattr(problem, "strerror", None) or "the raster could not be written"
    return f"The raster could not be stored ({cause}); is the disk full? It is tried again later."


def _drop_if_stale(run: CoverageRun) -> None:
    """A run that is over without a raster and for inputs that no longer hold tells nobody anything."""
    relay = Relay.objects.select_related("site").filter(pk=run.relay_id).first()
    if relay is not None and runs.today_digest(relay) != run.inputs_digest:
        CoverageRun.objects.filter(pk=run.pk, state__in=[State.FAILED, State.CANCELLED]).delete()


def _publish(held: _Held, prepared: Prepared, coverage: Coverage) -> None:
    """Write the file aside, then move it into place and name it in the row: both or neither."""
    name = stored_files.fresh_name(runs.FOLDER, held.run.relay.slug)
    with stored_files.scratch_in(runs.FOLDER) as scratch:
        written = scratch / "loss.tif"
        angles = [skyline.elevation_deg(prepared, coverage, band) for band in range(len(coverage.loss_db))]
        content = rasters.as_file(held.run.inputs, coverage, angles, relay=held.run.relay.slug)
        written.write_bytes(content)
        stored_files.publish(written, name, lambda: _name_in_row(held, coverage, name, len(content)))


def _name_in_row(held: _Held, coverage: Coverage, name: str, size: int) -> None:
    changed = held.mine.filter(cancel_asked=False).update(
        **_over(held.clock()),
        state=State.DONE,
        raster=name,
        raster_bytes=size,
        spacing_m=1000.0 * coverage.resolution.spacing_km,
        radials_done=coverage.resolution.radial_count,
        radials_total=coverage.resolution.radial_count,
        ends_early=coverage.ends_early,
    )
    if not changed:
        raise LeaseLost
