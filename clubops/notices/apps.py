from django.apps import AppConfig


class NoticesConfig(AppConfig):
    name = "clubops.notices"
    label = "notices"
    verbose_name = "Notices"

    def ready(self) -> None:
        # Models exist only now; importing the checks registers them.
        from clubops.notices import checks, kinds, reports  # noqa: F401, PLC0415

        kinds.register(reports.UNDELIVERED)
