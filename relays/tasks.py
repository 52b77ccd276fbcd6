"""Background work of the relays. Each task is a few lines over one verb and safe to run twice."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from relays import paths


@shared_task(name="relays.tasks.refresh_stale_paths")
def refresh_stale_paths() -> int:
    """Compute every verdict whose inputs changed. A crash loses nothing: what is left is still stale."""
    return paths.refresh_stale(now=timezone.now())
