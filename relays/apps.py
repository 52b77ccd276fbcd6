from django.apps import AppConfig


class RelaysConfig(AppConfig):
    name = "relays"
    verbose_name = "Sites and relays"

    def ready(self) -> None:
        from relays import freshness  # noqa: PLC0415  models exist only now
        from relays.upkeep import letters  # noqa: PLC0415

        freshness.watch()
        letters.register()
