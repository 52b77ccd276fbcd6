"""Every setting in one readable file. Defaults run from a clone; docs/settings.md explains each variable."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from csp.constants import NONE, SELF

from clubops import env

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = Path(env.text("CLUBOPS_VAR_DIR", str(BASE_DIR / "var")))
VAR_DIR.mkdir(parents=True, exist_ok=True)

# The club ------------------------------------------------------------------------------------------
CLUB_NAME = env.text("CLUBOPS_CLUB_NAME", "Lantern Ridge Radio Club")
CLUB_ZONE = env.text("CLUBOPS_CLUB_ZONE", "America/New_York")
CLUB_BAND_PROFILE = env.text("CLUBOPS_BAND_PROFILE", "us")
CLUB_CONTACT = env.text("CLUBOPS_CONTACT", "officers@club.example")
SITE_ADDRESS = env.text("CLUBOPS_SITE_ADDRESS", "http://127.0.0.1:8000").rstrip("/")

# The path calculation ------------------------------------------------------------------------------
# Spread between P.1812 and measurement: 6 dB is common practice, no source.
PATH_MODEL_ERROR_DB = env.number("CLUBOPS_MODEL_ERROR_DB", 6.0, least=0, most=20)
PATH_DELTA_N = env.number("CLUBOPS_DELTA_N", 45.0, least=0, most=150)
PATH_N0 = env.number("CLUBOPS_N0", 325.0, least=200, most=450)
PATH_SPACING_M = env.number("CLUBOPS_PATH_SPACING_M", 45.0, least=10, most=500)
PATH_CLUTTER_M = env.number("CLUBOPS_CLUTTER_M", 0.0, least=0, most=60)
PATH_LOCATION_SQUARE_M = env.number("CLUBOPS_LOCATION_SQUARE_M", 100.0, least=1, most=2000)
# How far the coverage of a relay is worked out; ground that is not known ends it earlier.
COVERAGE_RADIUS_KM = env.number("CLUBOPS_COVERAGE_RADIUS_KM", 60.0, least=1, most=300)
# A worker that has not been heard of for this long is taken for lost, and another takes its run up.
COVERAGE_LEASE_S = env.number("CLUBOPS_COVERAGE_LEASE_S", 60, least=5, most=3600)

# Security ------------------------------------------------------------------------------------------
DEBUG = env.flag("CLUBOPS_DEBUG", False)
SECRET_KEY_FILE = VAR_DIR / "secret_key"
SECRET_KEY = env.text("CLUBOPS_SECRET_KEY", "")
if not SECRET_KEY:
    from clubops.secret import read_or_make_secret_key

    SECRET_KEY = read_or_make_secret_key(SECRET_KEY_FILE)
ALLOWED_HOSTS = env.words("CLUBOPS_ALLOWED_HOSTS", "127.0.0.1,localhost,[::1]")
CSRF_TRUSTED_ORIGINS = env.words("CLUBOPS_TRUSTED_ORIGINS")
SECURE_ONLY = env.flag("CLUBOPS_HTTPS", SITE_ADDRESS.startswith("https://"))
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_ONLY
SECURE_HSTS_SECONDS = 31_536_000 if SECURE_ONLY else 0
SECURE_SSL_REDIRECT = False  # the proxy in front does this
if SECURE_ONLY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "object-src": [NONE],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}
AUTH_USER_MODEL = "members.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "registration/locked_out.html"
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "nets:my_duties"
LOGOUT_REDIRECT_URL = "nets:home"
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

# Applications --------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "clubops.apps.ClubopsConfig",
    "clubops.members",
    "clubops.notices",
    "relays",
    "nets",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "js_lib_leaflet",
    "django_htmx",
    "axes",
    "csp",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "nets.web.shortcut.CalendarsFirst",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "csp.middleware.CSPMiddleware",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "clubops.urls"
WSGI_APPLICATION = "clubops.wsgi.application"
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "clubops" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "clubops.context.club",
            ],
        },
    }
]

# Data ----------------------------------------------------------------------------------------------
DATABASES = {"default": env.database("CLUBOPS_DATABASE_URL", str(VAR_DIR / "club.sqlite3"))}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
MEDIA_ROOT = VAR_DIR / "files"  # terrain and rasters; never served by URL
STATIC_URL = "static/"
STATIC_ROOT = VAR_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
if DEBUG:
    STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}

# Time and language ---------------------------------------------------------------------------------
USE_TZ = True
TIME_ZONE = "UTC"
LANGUAGE_CODE = "en-gb"
USE_I18N = True
# What a person may be written to in; pages are in the first. The words are in clubops/locale/.
LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]
CLUB_LANGUAGE = env.text("CLUBOPS_LANGUAGE", "en-gb")

# Mail ----------------------------------------------------------------------------------------------
EMAIL_BACKEND = env.text("CLUBOPS_MAIL_BACKEND", "django.core.mail.backends.filebased.EmailBackend")
EMAIL_FILE_PATH = VAR_DIR / "mail"
EMAIL_HOST = env.text("CLUBOPS_MAIL_HOST", "localhost")
EMAIL_PORT = int(env.number("CLUBOPS_MAIL_PORT", 25, least=1, most=65535))
EMAIL_HOST_USER = env.text("CLUBOPS_MAIL_USER", "")
EMAIL_HOST_PASSWORD = env.text("CLUBOPS_MAIL_PASSWORD", "")
EMAIL_USE_TLS = env.flag("CLUBOPS_MAIL_TLS", False)
EMAIL_TIMEOUT = env.number("CLUBOPS_MAIL_TIMEOUT_S", 20, least=0.5, most=60)
DEFAULT_FROM_EMAIL = env.text("CLUBOPS_MAIL_FROM", f"{CLUB_NAME} <{CLUB_CONTACT}>")

# Notices -------------------------------------------------------------------------------------------
# In each recipient's own zone, unless they chose other hours; "none" for no quiet hours.
NOTICES_QUIET_HOURS = env.text("CLUBOPS_QUIET_HOURS", "22:00-07:00")
# A notice is not held for quiet hours when that would leave less than this before what it is about.
NOTICES_URGENT_H = env.number("CLUBOPS_URGENT_H", 4, least=0, most=48)
# A duty nobody has confirmed this long before the session is told to the backup, then to the net manager.
NOTICES_CONFIRM_BY_H = env.number("CLUBOPS_CONFIRM_BY_H", 36, least=1, most=336)
NOTICES_TELL_MANAGER_BY_H = env.number("CLUBOPS_TELL_MANAGER_BY_H", 24, least=1, most=336)
NOTICES_MOST_ATTEMPTS = int(env.number("CLUBOPS_MOST_ATTEMPTS", 10, least=1, most=50))
# How long one run goes on taking work, when a run that hangs is killed, and when its claims lapse: in this
# order, so that a claim that has lapsed has no living owner. `manage.py check` refuses another order.
NOTICES_RUN_S = env.number("CLUBOPS_NOTICES_RUN_S", 25, least=1, most=600)
NOTICES_RUN_LIMIT_S = env.number("CLUBOPS_NOTICES_RUN_LIMIT_S", 300, least=2, most=3600)
NOTICES_LEASE_S = env.number("CLUBOPS_NOTICES_LEASE_S", 600, least=3, most=7200)
# How long notices, revoked addresses and rota drafts are kept once all that they are about is over.
KEEP_DAYS = env.number("CLUBOPS_KEEP_DAYS", 400, least=30, most=36_500)

# Celery --------------------------------------------------------------------------------------------
# The database holds the truth about work to do; the broker only wakes workers. See clubops/wake.py.
CELERY_BROKER_URL = env.text("CLUBOPS_BROKER_URL", "memory://")
CELERY_TIMEZONE = "UTC"
CELERY_ENABLE_UTC = True
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, object] = {}
if CELERY_BROKER_URL.startswith(("redis", "socket")):
    # A killed worker's message comes back after this many seconds; without all three it may never.
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 120,
        "unacked_restore_interval": 10,
        "unacked_restore_throttle": 1,
    }
elif CELERY_BROKER_URL.startswith("filesystem:"):
    _folder = env.text("CLUBOPS_BROKER_FOLDER", str(VAR_DIR / "run" / "broker"))
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": _folder,
        "data_folder_out": _folder,
        "control_folder": f"{_folder}/control",
    }
CELERY_BEAT_SCHEDULE = {
    "send due notices": {"task": "clubops.notices.tasks.send_due", "schedule": 30.0},
    "plan sessions and their notices": {"task": "nets.tasks.plan_ahead", "schedule": 600.0},
    "refresh stale path verdicts": {"task": "relays.tasks.refresh_stale_paths", "schedule": 300.0},
    "work out the coverage that is due": {"task": "relays.tasks.refresh_coverage", "schedule": 60.0},
    "clear old coverage away": {"task": "relays.tasks.tidy_coverage", "schedule": 86_400.0},
    "plan the notices about upkeep": {"task": "relays.tasks.plan_upkeep", "schedule": 600.0},
    "clear away what is long over": {"task": "nets.tasks.clear_old", "schedule": 21_600.0},
    "rebuild changed calendars": {"task": "nets.tasks.rebuild_calendars", "schedule": 300.0},
    "work out the rota that was asked for": {"task": "nets.tasks.tend_rota", "schedule": 60.0},
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {
            "()": "clubops.logs.DiscreetFormatter",
            "format": "%(asctime)s %(levelname)s %(name)s: %(message)s",
        }
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": env.text("CLUBOPS_LOG_LEVEL", "INFO")},
    # These two write through handlers of their own unless told otherwise, and name addresses.
    "loggers": {
        "django.server": {"handlers": ["console"], "propagate": False},
        "gunicorn.error": {"handlers": ["console"], "propagate": False},
    },
}
