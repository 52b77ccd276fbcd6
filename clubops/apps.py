"""The site as Django sees it, and its Celery application, so that every task finds the broker."""

from django.apps import AppConfig

from clubops.celery import app as celery_app

__all__ = ["ClubopsConfig", "celery_app"]


class ClubopsConfig(AppConfig):
    name = "clubops"
    verbose_name = "Club"
