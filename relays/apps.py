from django.apps import AppConfig


class RelaysConfig(AppConfig):
    name = "relays"
    verbose_name = "Sites and relays"
    default_auto_field = "django.db.models.BigAutoField"
