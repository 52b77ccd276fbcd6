"""Background work of the nets. Each task is a few lines over one verb and safe to run twice."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from nets import feeds, schedule


@shared_task(name="nets.tasks.plan_ahead")
def plan_ahead() -> int:
    """Make the coming sessions of every net."""
    return schedule.plan_all(now=timezone.now()).made


@shared_task(name="nets.tasks.rebuild_calendars")
def rebuild_calendars() -> int:
    """Store every calendar whose bytes changed. A crash loses nothing: the next run finds the same work."""
    return feeds.rebuild_changed(now=timezone.now())
