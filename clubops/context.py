"""What every page knows about the club and the reader."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest

from clubops.members.permissions import Reader


def club(request: HttpRequest) -> dict[str, Any]:
    """The club's name and contact, its zone, and what the reader may do."""
    return {
        "club_name": settings.CLUB_NAME,
        "club_contact": settings.CLUB_CONTACT,
        "club_zone": settings.CLUB_ZONE,
        # A request refused before the login was read (a host that is not ours) has no user.
        "reader": Reader(getattr(request, "user", AnonymousUser())),
    }
