"""Waking a worker when something that a calendar or a notice says has changed."""

from __future__ import annotations

from typing import Any

from django.db.models.signals import post_delete, post_save

from clubops.wake import wake
from nets import tasks
from nets.models import Duty, FeedKey, Net, Session
from relays.models import Relay


def changed(**_: Any) -> None:
    """Enqueue a rebuild, on commit. Equal bytes are not stored again, so one too many does no harm."""
    wake(tasks.rebuild_calendars)


def duties_changed(**_: Any) -> None:
    """Have the ledger of notices follow, on commit. The regular planning finds whatever this misses."""
    wake(tasks.top_up_notices)


def watch() -> None:
    """Listen for changes of nets, sessions, duties, relays and calendar addresses."""
    for model in (Net, Session, Duty):
        uid = f"nets.changes.notices.{model.__name__}"
        post_save.connect(duties_changed, sender=model, dispatch_uid=f"{uid}.saved")
        post_delete.connect(duties_changed, sender=model, dispatch_uid=f"{uid}.gone")
    for model in (Net, Session, Duty, FeedKey, Relay):
        post_save.connect(changed, sender=model, dispatch_uid=f"nets.changes.{model.__name__}.saved")
    for model in (Net, Session, Duty):
        post_delete.connect(changed, sender=model, dispatch_uid=f"nets.changes.{model.__name__}.gone")
