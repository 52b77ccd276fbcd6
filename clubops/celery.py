"""The Celery application. Tasks live in each app's tasks.py and are a few lines each."""

from __future__ import annotations

import os
from typing import Any

from celery import Celery
from celery.signals import beat_init

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clubops.settings")

app = Celery("clubops")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@beat_init.connect
def do_everything_now(**_: Any) -> None:
    """Ask for every scheduled task at once when beat starts.

    Beat itself waits one interval first: after a restart, or a week switched off, the club would wait ten
    minutes for what is due now. Every task is safe to run twice.
    """
    for entry in app.conf.beat_schedule.values():
        app.send_task(entry["task"])
