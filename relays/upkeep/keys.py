"""Who has which key of which site."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from clubops.members.models import Member
from relays.models import KeyHolder, Site


class KeyRefused(ValueError):
    """A key that cannot change hands so; the sentence says why."""


def at_hand() -> QuerySet[KeyHolder]:
    """Every key that is out, by site."""
    rows = KeyHolder.objects.filter(returned_on__isnull=True)
    return rows.select_related("site", "member").order_by("site__name", "key")


def hand_out(
    site: Site, member: Member, key: str, *, given_on: dt.date, today: dt.date, note: str = ""
) -> KeyHolder:
    """Note that somebody was given a key. Raises `KeyRefused` when somebody else has it, or the day is to come."""
    if given_on > today:
        raise KeyRefused(f"{given_on} is in the future; note it when the key is handed over.")
    row = KeyHolder(site=site, member=member, key=" ".join(key.split()), given_on=given_on, note=note)
    try:
        with transaction.atomic():
            row.full_clean(validate_constraints=False)
            row.save()
    except IntegrityError:
        holder = at_hand().get(site=site, key=row.key).member
        if holder == member:
            return at_hand().get(site=site, key=row.key)  # the same button pressed twice
        raise KeyRefused(
            f"“{row.key}” is with {holder.name}, {holder.call_sign}; note first that it came back."
        ) from None
    except ValidationError as problem:
        raise KeyRefused(" ".join(problem.messages)) from problem
    return row


def take_back(row: KeyHolder, *, on: dt.date) -> bool:
    """Note that a key came back. False when it had come back before.

    Raises `KeyRefused` for a day before it was given.
    """
    if on < row.given_on:
        raise KeyRefused(f"It was given on {row.given_on}; it cannot come back on {on}.")
    return bool(KeyHolder.objects.filter(pk=row.pk, returned_on__isnull=True).update(returned_on=on))
