"""Waking a worker when something that a calendar or a notice says has changed."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Collection
from typing import Any

from django.db import transaction
from django.db.models import Model
from django.db.models.signals import post_delete, post_save, pre_save
from django.utils import timezone

from clubops.members.models import Member
from clubops.notices.models import Choice
from clubops.wake import wake
from nets import feeds, tasks
from nets.feeds.catalogue import Subject
from nets.models import Duty, EarlierRule, FeedKey, Net, Session
from relays.models import Outage, Relay

# Changes that come within this time are built together.
GATHER_S = 2.0


class _Pending(threading.local):
    """What has changed in this thread since calendars were last touched."""

    def __init__(self) -> None:
        self.scope = feeds.Scope()

    def take(self) -> feeds.Scope:
        scope, self.scope = self.scope, feeds.Scope()
        return scope


_pending = _Pending()


def net_changed(instance: Net, **_: Any) -> None:
    _pending.scope.nets.add(instance.pk)
    _note_host(instance.relay_id)


def earlier_rule_changed(instance: EarlierRule, **_: Any) -> None:
    _pending.scope.nets.add(instance.net_id)
    _note_host(instance.relay_id)


def session_changed(instance: Session, **_: Any) -> None:
    _pending.scope.nets.add(instance.net_id)
    _note_host(instance.relay_id)


def duty_changed(instance: Duty, **_: Any) -> None:
    """The holder's calendar, and that of whoever was told before that the chair is theirs."""
    _pending.scope.members.add(instance.member_id)
    # A session that is deleted takes its duties along, and speaks for itself.
    with contextlib.suppress(Session.DoesNotExist):
        _pending.scope.turns.add((instance.session.net_id, instance.session.occurrence_date))
    transaction.on_commit(touch_calendars, robust=True)


def relay_changed(instance: Relay, **_: Any) -> None:
    _pending.scope.relays.add(instance.pk)
    transaction.on_commit(touch_calendars, robust=True)


def outage_changed(instance: Outage, **_: Any) -> None:
    _pending.scope.outages.add(instance.relay_id)
    transaction.on_commit(touch_calendars, robust=True)


def holder_changed(instance: FeedKey | Member | Choice, **_: Any) -> None:
    _pending.scope.members.add(instance.pk if isinstance(instance, Member) else instance.member_id)
    transaction.on_commit(touch_calendars, robust=True)


def _note_host(pk: int | None) -> None:
    if pk is not None:
        _pending.scope.hosts.add(pk)
    transaction.on_commit(touch_calendars, robust=True)


def leaving_relay(sender: type[Model], instance: Net | Session, **_: Any) -> None:
    """The relay that a net or session is about to leave has a calendar too."""
    if instance.pk:
        before = sender._default_manager.filter(pk=instance.pk).values_list("relay_id", flat=True).first()
        if before != instance.relay_id:
            _note_host(before)


def touch_calendars() -> None:
    """Mark what has changed as stale and call a worker, once for everything in a transaction.

    It runs after the commit, when other workers can see the change; should this process die just now, the
    regular rebuilding finds it.
    """
    scope = _pending.take()
    if scope:
        call_builder(feeds.touched_by(scope, now=timezone.now()))


def call_builder(subjects: Collection[Subject]) -> None:
    """Have these calendars built soon. Whoever finds them stale already has been forestalled, and calls nobody."""
    if feeds.touch(subjects):
        wake(tasks.rebuild_touched_calendars, countdown_s=GATHER_S)


def duties_changed(**_: Any) -> None:
    """Have the ledger of notices follow, on commit. The regular planning finds whatever this misses."""
    wake(tasks.top_up_notices)


def watch() -> None:
    """Listen for changes of nets, sessions, duties, relays, outages, members and calendar addresses."""
    for model in (Net, Session, Duty, Outage):
        uid = f"nets.changes.notices.{model.__name__}"
        post_save.connect(duties_changed, sender=model, dispatch_uid=f"{uid}.saved")
        post_delete.connect(duties_changed, sender=model, dispatch_uid=f"{uid}.gone")
    listeners: list[tuple[type[Model], Callable[..., None]]] = [
        (Net, net_changed),
        (EarlierRule, earlier_rule_changed),
        (Session, session_changed),
        (Duty, duty_changed),
        (Relay, relay_changed),
        (Outage, outage_changed),
        (Member, holder_changed),
        (FeedKey, holder_changed),
        (Choice, holder_changed),
    ]
    for sender, changed in listeners:
        uid = f"nets.changes.{sender.__name__}"
        post_save.connect(changed, sender=sender, dispatch_uid=f"{uid}.saved")
        post_delete.connect(changed, sender=sender, dispatch_uid=f"{uid}.gone")
    for moving in (Net, Session):
        pre_save.connect(leaving_relay, sender=moving, dispatch_uid=f"nets.changes.{moving.__name__}.leaving")
