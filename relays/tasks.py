"""Background work of the relays. Each task is a few lines over one verb and safe to run twice."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from clubops.wake import wake
from relays import paths
from relays.coverage import runs, working
from relays.upkeep import wishes


@shared_task(name="relays.tasks.refresh_stale_paths")
def refresh_stale_paths() -> int:
    """Compute every verdict whose inputs changed. A crash loses nothing: what is left is still stale."""
    return paths.refresh_stale(now=timezone.now())


@shared_task(name="relays.tasks.refresh_coverage")
def refresh_coverage() -> int:
    """Ask for today's coverage of every relay and wake a worker for each run that is due; how many are.

    A crash loses nothing: what is due is found again in the database.
    """
    now = timezone.now()
    runs.ask_all(now=now)
    found = runs.due(now=now)
    for run_id in found:
        wake(compute_coverage, run_id)
    return len(found)


@shared_task(name="relays.tasks.compute_coverage")
def compute_coverage(run_id: int) -> str:
    """Work one run out, unless another worker has it; what `working.compute` promises holds here."""
    run = working.compute(run_id, clock=timezone.now)
    return run.state if run else "not to be had"


@shared_task(name="relays.tasks.tidy_coverage")
def tidy_coverage() -> int:
    """Remove old runs and files that no run names."""
    return runs.tidy(now=timezone.now())


@shared_task(name="relays.tasks.plan_upkeep")
def plan_upkeep() -> int:
    """Bring the ledger of notices in step with upkeep; how many are new. Safe to run twice and to kill."""
    return wishes.top_up(now=timezone.now()).made
