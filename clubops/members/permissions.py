"""Who may do what: one small object asked by every view, template and admin page."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import ObjectDoesNotExist

if TYPE_CHECKING:
    from clubops.members.models import Member, User

OFFICER = "Officer"
NET_MANAGER = "Net manager"
RELAY_STEWARD = "Relay steward"
NET_CONTROL = "Net control"


class Reader:
    """The person looking at a page. An outsider has no member and no role."""

    def __init__(self, user: User | AnonymousUser) -> None:
        self.user = user

    @cached_property
    def member(self) -> Member | None:
        """The roster entry behind the login, unless the person has left."""
        if not self.user.is_authenticated:
            return None
        try:
            member: Member = self.user.member
        except ObjectDoesNotExist:
            return None
        return member if member.is_active else None

    @cached_property
    def roles(self) -> frozenset[str]:
        if not self.user.is_authenticated or not self.user.is_active:
            return frozenset()
        return frozenset(self.user.groups.values_list("name", flat=True))

    @property
    def is_member(self) -> bool:
        return self.member is not None or self.is_officer

    @property
    def is_officer(self) -> bool:
        return bool(self.user.is_authenticated and self.user.is_superuser) or OFFICER in self.roles

    @property
    def manages_nets(self) -> bool:
        return self.is_officer or NET_MANAGER in self.roles

    @property
    def tends_relays(self) -> bool:
        return self.is_officer or RELAY_STEWARD in self.roles

    @property
    def takes_the_chair(self) -> bool:
        return NET_CONTROL in self.roles or (self.member is not None and self.member.takes_the_chair)

    def may_see_station(self, owner_id: int) -> bool:
        """A home position is seen by its owner and by officers, nobody else."""
        return self.is_officer or (self.member is not None and self.member.pk == owner_id)
