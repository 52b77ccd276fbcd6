"""The addresses of the calendars; the private ones are given, renewed and revoked here."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.conf import settings
from django.db import transaction
from django.urls import reverse

from clubops.members.models import Member
from nets.models import FeedKey, Net
from relays.models import Relay


def _absolute(name: str, *args: str, alarms: bool = False) -> str:
    name = f"{name}_alarms" if alarms else name
    return settings.SITE_ADDRESS + reverse(f"nets:{name}", args=args)


def club_address(*, alarms: bool = False) -> str:
    return _absolute("club_feed", alarms=alarms)


def net_address(net: Net, *, alarms: bool = False) -> str:
    return _absolute("net_feed", net.slug, alarms=alarms)


def relay_address(relay: Relay, *, alarms: bool = False) -> str:
    return _absolute("relay_feed", relay.slug, alarms=alarms)


@dataclass(frozen=True, slots=True)
class Offer:
    """A public calendar: what it is of, and its address without alarms and with."""

    name: str
    address: str
    with_alarms: str


def public_offers() -> dict[str, list[Offer]]:
    """Every public calendar, under a heading each kind."""
    nets = Net.objects.filter(is_active=True)
    relays = Relay.objects.exclude(status=Relay.Status.PLANNED)
    return {
        "Every net of the club": [Offer(settings.CLUB_NAME, club_address(), club_address(alarms=True))],
        "One net": [Offer(net.name, net_address(net), net_address(net, alarms=True)) for net in nets],
        "One relay": [
            Offer(relay.name, relay_address(relay), relay_address(relay, alarms=True)) for relay in relays
        ],
    }


def live_key(member: Member) -> FeedKey | None:
    """What the member's private address is made from, if they have one."""
    return member.feed_keys.filter(revoked_at=None).first()


def member_address(member: Member) -> str:
    """The member's private address, or nothing when they have switched it off or never asked for one."""
    key = live_key(member)
    return _absolute("member_feed", key.token) if key else ""


@transaction.atomic
def revoke(member: Member, *, now: dt.datetime) -> None:
    """Switch the member's private address off for good, and forget what it answered with."""
    member.feed_keys.filter(revoked_at=None).update(revoked_at=now)
    member.calendars.all().delete()


@transaction.atomic
def new_key(member: Member, *, now: dt.datetime) -> FeedKey:
    """The secret of a new private address; the old one stops answering. The alarm stays as it was."""
    # The member's row is the lock: two clicks at once give one live address.
    Member.objects.select_for_update().get(pk=member.pk)
    before = live_key(member)
    revoke(member, now=now)
    return FeedKey.objects.create(member=member, alarm_before_min=before.alarm_before_min if before else None)


def set_alarm(member: Member, minutes: int | None) -> bool:
    """Have the member's calendar give an alarm so many minutes before a duty, or none. False without a change."""
    key = live_key(member)
    if key is None or key.alarm_before_min == minutes:
        return False
    key.alarm_before_min = minutes
    key.save(update_fields=["alarm_before_min"])
    return True
