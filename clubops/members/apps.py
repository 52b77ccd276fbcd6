from django.apps import AppConfig
from django.db.models.signals import post_migrate


class MembersConfig(AppConfig):
    name = "clubops.members"
    label = "members"
    verbose_name = "Roster"

    def ready(self) -> None:
        from clubops.members.roles import sync_roles  # noqa: PLC0415  models exist only now

        post_migrate.connect(sync_roles, dispatch_uid="members.sync_roles")
