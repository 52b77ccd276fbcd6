"""Waking a worker, after the work is safely in the database."""

from __future__ import annotations

import logging
from typing import Any

from celery import Task
from django.db import transaction
from kombu.exceptions import OperationalError

log = logging.getLogger(__name__)


def wake(task: Task, *args: Any) -> None:
    """Send `task` to the workers once the current transaction has committed.

    Losing the message loses no work: everything a task does is found again in the database by the beat
    schedule. That is why a broker that is down is logged and not raised at the person who pressed a button.
    """

    def send() -> None:
        try:
            task.apply_async(args=args, retry=False)
        except (OperationalError, OSError) as reason:
            log.warning("No broker to wake %s (%s); the schedule will find the work.", task.name, reason)

    transaction.on_commit(send)
