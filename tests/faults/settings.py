"""What the worker processes of the fault tests run with: the club's settings, a faster beat, the stops."""

from __future__ import annotations

from clubops.settings import *  # noqa: F403
from clubops.settings import CELERY_BEAT_SCHEDULE, INSTALLED_APPS

INSTALLED_APPS = [*INSTALLED_APPS, "tests.faults.apps.FaultsConfig"]
EMAIL_BACKEND = "tests.faults.mail_backend.EmailBackend"
NOTICES_QUIET_HOURS = "none"
CELERY_BEAT_SCHEDULE = {
    name: entry | {"schedule": 0.5}
    for name, entry in CELERY_BEAT_SCHEDULE.items()
    if name == "send due notices"
}
# A worker that lost its broker looks for it again soon.
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 5,
    "unacked_restore_interval": 1,
    "unacked_restore_throttle": 1,
}
