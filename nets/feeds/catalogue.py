"""Which calendars there are, and which of them a change touches."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from django.db.models import Q, QuerySet

from clubops.members.models import Member
from nets.feeds.entries import KEPT
from nets.models import CalendarEntry, Duty, EarlierRule, FeedKey, Net, Session
from relays.models import Relay

ALARMS = "/alarms"


@dataclass(frozen=True, slots=True)
class Subject:
    """What one calendar is about: a net, a relay or a member; the whole club when it is none of them."""

    net_id: int | None = None
    relay_id: int | None = None
    member_id: int | None = None
    has_alarms: bool = False

    @property
    def key(self) -> str:
        """The name of its stored bytes."""
        named = {"net": self.net_id, "relay": self.relay_id, "member": self.member_id}
        plain = next((f"{kind}:{pk}" for kind, pk in named.items() if pk is not None), "club")
        return plain + ALARMS if self.has_alarms else plain


# Made of every net and every outage.
_CLUB = (Subject(), Subject(has_alarms=True))


@dataclass(slots=True)
class Scope:
    """What has changed, as far as it is known: rows by their ids, and turns by (net, local date).

    `hosts` are relays of which nothing has changed but who meets on them, `outages` those with another outage.
    """

    nets: set[int] = field(default_factory=set)
    relays: set[int] = field(default_factory=set)
    hosts: set[int] = field(default_factory=set)
    outages: set[int] = field(default_factory=set)
    members: set[int] = field(default_factory=set)
    turns: set[tuple[int, dt.date]] = field(default_factory=set)

    def __bool__(self) -> bool:
        return bool(self.nets or self.relays or self.hosts or self.outages or self.members or self.turns)


def every_subject() -> set[Subject]:
    """All calendars the club has."""
    relays = Relay.objects.values_list("pk", flat=True)
    nets = Net.objects.values_list("pk", flat=True)
    return {*_CLUB, *_shared(nets=nets, relays=relays), *_private(_live_keys())}


def touched_by(scope: Scope, *, now: dt.datetime) -> set[Subject]:
    """The calendars that may say something else after the change. What has just been deleted has none."""
    nets = scope.nets | _nets_on(scope.relays, now)
    relays = scope.relays | scope.hosts | scope.outages | _relays_of(nets, now)
    members = scope.members | _members_of(nets, scope.turns, now)
    shared = _shared(
        nets=Net.objects.filter(pk__in=nets).values_list("pk", flat=True),
        relays=Relay.objects.filter(pk__in=relays).values_list("pk", flat=True),
    )
    return {
        *(_CLUB if nets or scope.outages else ()),
        *shared,
        *_private(_live_keys().filter(member__in=members)),
    }


def _shared(*, nets: Iterable[int], relays: Iterable[int]) -> Iterator[Subject]:
    """Public calendars of nets and relays, each without alarms and with."""
    for pk in nets:
        yield from (Subject(net_id=pk), Subject(net_id=pk, has_alarms=True))
    for pk in relays:
        yield from (Subject(relay_id=pk), Subject(relay_id=pk, has_alarms=True))


def _private(keys: Iterable[FeedKey]) -> Iterator[Subject]:
    yield from (Subject(member_id=key.member_id) for key in keys)


def _live_keys() -> QuerySet[FeedKey]:
    return FeedKey.objects.filter(revoked_at=None, member__is_active=True)


def _nets_on(relays: set[int], now: dt.datetime) -> set[int]:
    """Nets that meet on these relays by a rule, or for one session."""
    if not relays:
        return set()
    by_rule = Net.objects.filter(Q(relay__in=relays) | Q(earlier_rules__relay__in=relays))
    for_once = Session.objects.filter(relay__in=relays, ends_at__gt=now - KEPT)
    return {*by_rule.values_list("pk", flat=True), *for_once.values_list("net_id", flat=True)}


def _relays_of(nets: set[int], now: dt.datetime) -> set[int]:
    """Relays these nets meet on by a rule, or for one session."""
    if not nets:
        return set()
    visits = Session.objects.filter(net__in=nets, ends_at__gt=now - KEPT)
    by_rule = Net.objects.filter(pk__in=nets)
    by_earlier_rule = EarlierRule.objects.filter(net__in=nets)
    return {
        *by_rule.exclude(relay=None).values_list("relay_id", flat=True),
        *by_earlier_rule.exclude(relay=None).values_list("relay_id", flat=True),
        *visits.exclude(relay=None).values_list("relay_id", flat=True),
    }


def _members_of(nets: set[int], turns: set[tuple[int, dt.date]], now: dt.datetime) -> set[int]:
    """People whose duties may have changed: those in the chairs now, and those who were told that they are."""
    found: set[int] = set()
    if nets:
        held = Duty.objects.filter(session__net__in=nets, session__ends_at__gt=now - KEPT)
        told = CalendarEntry.objects.filter(net__in=nets, ends_at__gt=now - KEPT).exclude(member=None)
        found.update(held.values_list("member_id", flat=True), told.values_list("member_id", flat=True))
    for net_id, date in turns:
        told = CalendarEntry.objects.filter(net=net_id, occurrence_date=date).exclude(member=None)
        found.update(told.values_list("member_id", flat=True))
    return found


def nets_of_members(members: Iterable[int], *, now: dt.datetime) -> set[int]:
    """Nets in which these people have, or were told of, a recent or coming duty."""
    members = set(members)
    held = Duty.objects.filter(member__in=members, session__ends_at__gt=now - KEPT)
    told = CalendarEntry.objects.filter(member__in=members, ends_at__gt=now - KEPT)
    return {*held.values_list("session__net_id", flat=True), *told.values_list("net_id", flat=True)}


def subject_of(member: Member) -> Subject:
    return Subject(member_id=member.pk)
