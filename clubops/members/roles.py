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

# Who holds a key and when a lease ends is for those who tend the sites, not for those who may look at relays.
STEWARDS_MODELS = {("relays", "keyholder"), ("relays", "renewal")}
STEWARDS = {OFFICER, RELAY_STEWARD}


def sync_roles(**_: Any) -> None:
    """Make the groups and set their permissions; run after every migrate, so it must be repeatable."""
    for role, grants in GRANTS.items():
        group, _made = Group.objects.get_or_create(name=role)
        wanted = [
            permission
            for permission in Permission.objects.select_related("content_type")
            if permission.codename.split("_", 1)[0] in grants.get(permission.content_type.app_label, ())
            and _may_see(role, (permission.content_type.app_label, permission.content_type.model))
        ]
        group.permissions.set(wanted)


def _may_see(role: str, model: tuple[str, str]) -> bool:
    if model in STEWARDS_MODELS:
        return role in STEWARDS
    return role == OFFICER or model not in PRIVATE_MODELS
