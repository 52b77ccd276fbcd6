"""Background work of the nets. Each task is a few lines over one verb and safe to run twice."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from clubops.notices import health
from nets import feeds, invites, pruning, schedule, swaps
from nets.reminders import outages, wishes
from nets.rota import draft


@shared_task(name="nets.tasks.plan_ahead")
def plan_ahead() -> int:
    """Make the coming sessions of every net, and bring the ledger in step with their duties."""
    now = timezone.now()
    made = schedule.plan_all(now=now).made
    wishes.top_up(now=now)
    outages.top_up(now=now)
    invites.top_up(now=now)
    health.beat(health.PLANNING, now=now)
    return made


@shared_task(name="nets.tasks.top_up_notices")
def top_up_notices() -> int:
    """Bring the ledger in step with the duties, soon after one changed."""
    now = timezone.now()
    made = wishes.top_up(now=now).made + outages.top_up(now=now).made
    return made + invites.top_up(now=now).made


@shared_task(name="nets.tasks.rebuild_calendars")
def rebuild_calendars() -> int:
    """Store every calendar whose bytes changed. A crash loses nothing: the next run finds the same work."""
    return feeds.rebuild_changed(now=timezone.now())


@shared_task(name="nets.tasks.rebuild_touched_calendars")
def rebuild_touched_calendars() -> int:
    """Store those that a change has touched, soon after it. What is left by a crash is found as above."""
    return feeds.rebuild_touched(now=timezone.now())


@shared_task(name="nets.tasks.tend_rota")
def tend_rota() -> int:
    """Work out the drafts that wait, and close offers whose time is over. A draft cut short waits again."""
    now = timezone.now()
    swaps.expire(now=now)
    return draft.work_out_waiting(now=now)


@shared_task(name="nets.tasks.clear_old")
def clear_old() -> int:
    """Remove what is long over; what one run does not reach is left for the next."""
    return pruning.clear_old(now=timezone.now()).notices
