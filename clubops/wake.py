"""Waking a worker, after the work is safely in the database."""

from __future__ import annotations

import logging
import time
from typing import Any

from celery import Task
from django.db import transaction
from kombu.exceptions import OperationalError

log = logging.getLogger(__name__)

# After a broker was found dead the next calls do not knock again for this long: an import that saves a
# thousand rows must not wait a thousand times for a refused connection.
SILENCE_S = 10.0
_silent_until = 0.0


def wake(task: Task, *args: Any, countdown_s: float = 0.0) -> None:
    """Send `task` to the workers once the current transaction has committed, to run after `countdown_s`.

    Losing the message loses no work: everything a task does is found again in the database by the beat
    schedule. That is why a broker that is down is logged and not raised at the person who pressed a button.
    """

    def send() -> None:
        global _silent_until
        if time.monotonic() < _silent_until:
            return
        try:
            task.apply_async(args=args, retry=False, countdown=countdown_s or None)
        except (OperationalError, OSError) as reason:
            _silent_until = time.monotonic() + SILENCE_S
            log.warning("No broker to wake %s (%s); the schedule will find the work.", task.name, reason)

    transaction.on_commit(send)
