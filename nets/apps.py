from django.apps import AppConfig


class NetsConfig(AppConfig):
    name = "nets"
    verbose_name = "Nets"

    def ready(self) -> None:
        from nets import changes, invites  # noqa: PLC0415  models exist only now
        from nets.reminders import kinds  # noqa: PLC0415

        changes.watch()
        kinds.register()
        invites.register()
