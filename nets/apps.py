from django.apps import AppConfig


class NetsConfig(AppConfig):
    name = "nets"
    verbose_name = "Nets"
