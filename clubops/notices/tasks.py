"""Sending what is due. The schedule is in the settings; a wake-up lost or come twice does no harm."""

from __future__ import annotations

from celery import shared_task
from django.conf import settings
from django.utils import timezone

from clubops.notices import delivery, policy
from clubops.wake import wake

# A wake-up nobody took within this time is forgotten: after a night without workers one run is enough.
STALE_AFTER_S = 60


@shared_task(
    name="clubops.notices.tasks.send_due", expires=STALE_AFTER_S, time_limit=int(settings.NOTICES_RUN_LIMIT_S)
)
def send_due() -> int:
    """Send what is due; again at once when there was more than one run has time for."""
    run = delivery.send_due(clock=timezone.now, policy=policy.current())
    if run.is_more:
        wake(send_due)
    return run.sent
