"""Who joins the roster and with what login."""

from __future__ import annotations

from django.contrib.auth.models import Group
from django.db import transaction

from clubops.members.models import Member, User
from clubops.members.permissions import OFFICER


@transaction.atomic
def add_officer(call_sign: str, name: str, *, email: str, password: str) -> User:
    """A member with an officer's login named after the call sign.

    Raises ValidationError, and adds nothing, when the call sign cannot be one or is on the roster already.
    """
    member = Member(call_sign=call_sign, name=name, email=email)
    member.full_clean()
    user = User.objects.create_user(member.call_sign.lower(), email=email, password=password, is_staff=True)
    user.groups.add(Group.objects.get(name=OFFICER))
    member.user = user
    member.save()
    return user
