"""Coverage runs: asked for once, cancelled, begun again, and cleared away. `working` computes them.

The database holds the truth; a message to a worker only wakes it.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.files.storage import default_storage
from django.db.models import Q

from relays import paths, terrain_store
from relays.coverage.inputs import inputs_of
from relays.models import CoverageRun, Relay
from relays.stored_files import clear_leftovers

State = CoverageRun.State

FOLDER = "coverage"
KEPT_FOR = dt.timedelta(days=7)


def ask(relay: Relay, *, now: dt.datetime) -> CoverageRun:
    """The run for today's inputs, made if there is none yet. Two who ask at once get the same row."""
    inputs = inputs_of(relay, terrain_store.terrain_version())
    run, _made = CoverageRun.objects.get_or_create(
        relay=relay,
        inputs_digest=paths.digest(inputs),
        defaults={
            "inputs": inputs,
            "edition": inputs["edition"],
            "terrain_version": inputs["terrain"],
            "frequency_mhz": inputs["frequency_mhz"],
            "antenna_height_m": inputs["antenna_height_m"],
            "receiver_heights_m": inputs["receiver_heights_m"],
            "radius_km": inputs["radius_km"],
            "asked_at": now,
        },
    )
    if run.state == State.DONE and not default_storage.exists(str(run.raster.name)):
        again(run, now=now)
        run.refresh_from_db()
    return run


def again(run: CoverageRun, *, now: dt.datetime) -> bool:
    """Begin a run that is over once more; False if it is waiting, running, or has its raster.

    The same inputs give the same raster, so one that is there is never given up for another try.
    """
    over = CoverageRun.objects.filter(pk=run.pk, state__in=[State.DONE, State.FAILED, State.CANCELLED])
    if run.raster and default_storage.exists(str(run.raster.name)):
        over = over.exclude(state=State.DONE)
    return bool(over.update(**_FRESH_START, asked_at=now))


_FRESH_START: dict[str, Any] = {
    "state": State.WAITING,
    "raster": "",
    "raster_bytes": 0,
    "error": "",
    "attempts": 0,
    "retry_at": None,
    "cancel_asked": False,
    "lease": "",
    "lease_until": None,
    "started_at": None,
    "finished_at": None,
    "radials_done": 0,
    "radials_total": 0,
}


def cancel(run: CoverageRun, *, now: dt.datetime) -> bool:
    """Stop a run; False if it is over. A worker that has it notices within a second or so."""
    waiting = CoverageRun.objects.filter(pk=run.pk, state=State.WAITING)
    if waiting.update(state=State.CANCELLED, finished_at=now):
        return True
    return bool(CoverageRun.objects.filter(pk=run.pk, state=State.RUNNING).update(cancel_asked=True))


def today_digest(relay: Relay) -> str:
    """The digest of what would be computed now; no terrain is opened for it."""
    return paths.digest(inputs_of(relay, terrain_store.terrain_version()))


def fresh(relay: Relay) -> CoverageRun | None:
    """The finished run for today's inputs, or None. Computes nothing."""
    return CoverageRun.objects.filter(
        relay=relay, state=State.DONE, inputs_digest=today_digest(relay)
    ).first()


def today(relay: Relay) -> CoverageRun | None:
    """The run for today's inputs in whatever state it is."""
    return CoverageRun.objects.filter(relay=relay, inputs_digest=today_digest(relay)).first()


def ask_all(*, now: dt.datetime) -> list[CoverageRun]:
    """Today's run of every relay; runs for yesterday's inputs that nobody has begun are dropped."""
    wanted = [ask(relay, now=now) for relay in Relay.objects.select_related("site")]
    current = [run.pk for run in wanted]
    CoverageRun.objects.filter(state=State.WAITING).exclude(pk__in=current).delete()
    CoverageRun.objects.filter(state=State.RUNNING).exclude(pk__in=current).update(cancel_asked=True)
    return wanted


def due(*, now: dt.datetime) -> list[int]:
    """Runs that a worker may begin: waiting, abandoned by a lost worker, or failed and worth another try."""
    found = CoverageRun.objects.filter(free(now))
    return list(found.order_by("asked_at", "pk").values_list("pk", flat=True))


def free(now: dt.datetime) -> Q:
    """What a worker may take."""
    worth_another_try = Q(state=State.FAILED, retry_at__lte=now)
    return Q(state=State.WAITING) | abandoned(now) | worth_another_try


def abandoned(now: dt.datetime) -> Q:
    """Runs whose worker has not been heard of for the length of a lease."""
    return Q(state=State.RUNNING, lease_until__lt=now)


def tidy(*, now: dt.datetime) -> int:
    """Remove runs for inputs that no longer hold after a week, and files that no row names; how many rows."""
    current = [today_digest(relay) for relay in Relay.objects.select_related("site")]
    over = CoverageRun.objects.filter(finished_at__lt=now - KEPT_FOR).exclude(inputs_digest__in=current)
    count = over.count()
    over.delete()
    clear_leftovers(FOLDER, CoverageRun.objects.values_list("raster", flat=True), now=now)
    return count
