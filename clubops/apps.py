from django.apps import AppConfig


class ClubopsConfig(AppConfig):
    name = "clubops"
    verbose_name = "Club"
