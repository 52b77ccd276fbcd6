from django.apps import AppConfig


class NoticesConfig(AppConfig):
    name = "clubops.notices"
    label = "notices"
    verbose_name = "Notices"
