"""Waking a worker when something a path depends on has changed."""

from __future__ import annotations

from typing import Any

from django.db.models.signals import post_delete, post_save

from clubops.members.models import Station
from clubops.wake import wake
from relays import tasks
from relays.models import Relay, Site, TerrainTile


def changed(**_: Any) -> None:
    """Enqueue a recomputation, on commit. The digest decides what is stale; this only saves waiting."""
    wake(tasks.refresh_stale_paths)


def coverage_changed(**_: Any) -> None:
    """The same for the coverage of relays, which depends on no station."""
    wake(tasks.refresh_coverage)


def watch() -> None:
    """Listen for changes of stations, relays, sites and terrain; called once, when the app is ready."""
    for model in (Station, Relay, Site, TerrainTile):
        post_save.connect(changed, sender=model, dispatch_uid=f"relays.freshness.{model.__name__}")
    post_delete.connect(changed, sender=TerrainTile, dispatch_uid="relays.freshness.terrain_gone")
    for model in (Relay, Site, TerrainTile):
        post_save.connect(coverage_changed, sender=model, dispatch_uid=f"relays.coverage.{model.__name__}")
    post_delete.connect(coverage_changed, sender=TerrainTile, dispatch_uid="relays.coverage.terrain_gone")
