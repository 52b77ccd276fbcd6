"""The Celery application. Tasks live in each app's tasks.py and are a few lines each."""

from __future__ import annotations

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clubops.settings")

app = Celery("clubops")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
