"""The four roles as groups with exactly the admin permissions their work needs."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import Group, Permission

from clubops.members.permissions import NET_CONTROL, NET_MANAGER, OFFICER, RELAY_STEWARD

EVERYTHING = ("view", "add", "change", "delete")
LOOK = ("view",)

# role -> app label -> actions; an officer has all of them in the club's own apps.
GRANTS: dict[str, dict[str, tuple[str, ...]]] = {
    OFFICER: {"members": EVERYTHING, "notices": EVERYTHING, "relays": EVERYTHING, "nets": EVERYTHING},
    NET_MANAGER: {"nets": EVERYTHING, "relays": LOOK, "notices": LOOK},
    RELAY_STEWARD: {"relays": EVERYTHING},
    NET_CONTROL: {},
}
# The roster and the stored verdicts hold home positions: no role but an officer's sees them in admin.
PRIVATE_MODELS = {("relays", "pathverdict"), ("nets", "feedkey")}


def sync_roles(**_: Any) -> None:
    """Make the groups and set their permissions; run after every migrate, so it must be repeatable."""
    for role, grants in GRANTS.items():
        group, _made = Group.objects.get_or_create(name=role)
        wanted = [
            permission
            for permission in Permission.objects.select_related("content_type")
            if permission.codename.split("_", 1)[0] in grants.get(permission.content_type.app_label, ())
            and (
                role == OFFICER
                or (permission.content_type.app_label, permission.content_type.model) not in PRIVATE_MODELS
            )
        ]
        group.permissions.set(wanted)
