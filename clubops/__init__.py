"""The site. Importing it loads the Celery application, so that every task finds the configured broker."""

from clubops.celery import app as celery_app

__all__ = ["celery_app"]
