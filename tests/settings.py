"""The club's settings with what a test must not touch replaced: files, mail, broker, slow passwords."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

os.environ.setdefault("CLUBOPS_VAR_DIR", tempfile.mkdtemp(prefix="club-tests-"))
os.environ.setdefault("CLUBOPS_SECRET_KEY", "a key for tests only")

from clubops.settings import *  # noqa: F403

EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
CELERY_BROKER_URL = "memory://"
AXES_ENABLED = False
# The manifest is made by collectstatic, which the demo and a real club run; tests read the sources.
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
STATIC_ROOT = Path(os.environ["CLUBOPS_VAR_DIR"]) / "static"
STATIC_ROOT.mkdir(parents=True, exist_ok=True)
