"""Outages of relays: planned or reported, changed, ended, called off, and asked about.

Everything is written under the lock of the relay's row, so that two stewards cannot plan over each other.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q, QuerySet

from clubops.members.models import Member
from relays.models import Outage, Relay

# Longer than this it is no outage any more but a relay that is off the air: its status says that.
LONGEST = dt.timedelta(days=60)
# A report may come in this long after the relay fell silent; a plan may not begin in the past at all.
REPORTED_WITHIN = dt.timedelta(days=14)


class OutageRefused(ValueError):
    """Something that cannot be planned or reported; `field` names what is wrong, `sentence` says it."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


@dataclass(frozen=True, slots=True)
class Terms:
    """When and how: aware instants, `ends_at` None while nobody knows; keys of Outage.Kind and Outage.Effect."""

    starts_at: dt.datetime
    ends_at: dt.datetime | None
    reason: str
    kind: str = Outage.Kind.PLANNED
    effect: str = Outage.Effect.OFF_AIR


def enter(relay: Relay, terms: Terms, *, by: Member | None, now: dt.datetime) -> Outage:
    """Plan an outage or report one. Raises `OutageRefused`."""
    with _locked(relay):
        _require_sound(terms, now=now, is_new=True)
        _require_free(relay, terms)
        return Outage.objects.create(relay=relay, reported_by=by, **_columns(terms))


def change(outage: Outage, terms: Terms, *, now: dt.datetime) -> bool:
    """Give an outage other terms; False when they are the same. Raises `OutageRefused`."""
    with _locked(outage.relay):
        row = _standing(outage)
        if _is_over(row, now):
            raise OutageRefused("starts_at", "This outage is over; it stays as it was.")
        _require_sound(terms, now=now, is_new=terms.starts_at != row.starts_at)
        _require_free(outage.relay, terms, beside=row)
        return _write(row, outage, **_columns(terms))


def end(outage: Outage, *, at: dt.datetime, now: dt.datetime) -> bool:
    """The relay is back since `at`; False when it had ended by then already. Raises `OutageRefused`."""
    with _locked(outage.relay):
        row = _standing(outage)
        if row.ends_at is not None and row.ends_at <= at:
            return False
        if at > now:
            raise OutageRefused("ends_at", "That is still ahead. Change its end, if it will end then.")
        if at <= row.starts_at:
            raise OutageRefused("ends_at", "It had not begun by then. Call it off, if it did not take place.")
        return _write(row, outage, ends_at=at)


def call_off(outage: Outage, *, now: dt.datetime) -> bool:
    """It does not take place; False when it was called off before. Raises `OutageRefused` once it has begun."""
    with _locked(outage.relay):
        row = Outage.objects.get(pk=outage.pk)
        if row.is_called_off:
            return False
        if row.starts_at <= now and row.kind == Outage.Kind.PLANNED:
            raise OutageRefused("starts_at", "It has begun. Say that the relay is back instead.")
        if _is_over(row, now):
            raise OutageRefused("starts_at", "This outage is over; it stays as it was.")
        return _write(row, outage, called_off_at=now)


def require_possible(relay: Relay, terms: Terms, *, beside: Outage | None = None, now: dt.datetime) -> None:
    """Raise `OutageRefused` where `enter`, or `change` of `beside`, would; nothing is written."""
    if beside is not None and _is_over(_standing(beside), now):
        raise OutageRefused("starts_at", "This outage is over; it stays as it was.")
    _require_sound(terms, now=now, is_new=beside is None or terms.starts_at != beside.starts_at)
    _require_free(relay, terms, beside=beside)


# Questions -------------------------------------------------------------------------------------------


def standing() -> QuerySet[Outage]:
    """Outages that were not called off, with their relay and its site."""
    return Outage.objects.filter(called_off_at__isnull=True).select_related("relay__site", "reported_by")


def between(start: dt.datetime, end: dt.datetime, *, relay: Relay | None = None) -> list[Outage]:
    """Outages with an instant in the half-open span, earliest first."""
    rows = standing().filter(Q(ends_at__isnull=True) | Q(ends_at__gt=start), starts_at__lt=end)
    return list(rows.filter(relay=relay) if relay else rows)


def running(*, now: dt.datetime) -> list[Outage]:
    """Outages of this moment."""
    return list(standing().filter(Q(ends_at__isnull=True) | Q(ends_at__gt=now), starts_at__lte=now))


def running_by_relay(*, now: dt.datetime) -> dict[int, Outage]:
    """The outage each relay is in, by the relay's key; at most one, as they do not overlap."""
    return {each.relay_id: each for each in running(now=now)}


def coming(*, now: dt.datetime) -> list[Outage]:
    """Outages still ahead, earliest first."""
    return list(standing().filter(starts_at__gt=now))


def current_of(relay: Relay, *, now: dt.datetime) -> Outage | None:
    """The outage the relay is in, if it is in one."""
    return running_by_relay(now=now).get(relay.pk)


def next_of(relay: Relay, *, now: dt.datetime) -> Outage | None:
    """The next one ahead of the relay."""
    return standing().filter(relay=relay, starts_at__gt=now).first()


# Keeping them sound ----------------------------------------------------------------------------------


@contextmanager
def _locked(relay: Relay) -> Iterator[None]:
    with transaction.atomic():
        Relay.objects.select_for_update().get(pk=relay.pk)
        yield


def _standing(outage: Outage) -> Outage:
    row = Outage.objects.get(pk=outage.pk)
    if row.is_called_off:
        raise OutageRefused(
            "starts_at", "This outage was called off; enter a new one, if it takes place after all."
        )
    return row


def _is_over(row: Outage, now: dt.datetime) -> bool:
    return row.ends_at is not None and row.ends_at <= now


def _columns(terms: Terms) -> dict[str, object]:
    return {
        "starts_at": terms.starts_at,
        "ends_at": terms.ends_at,
        "reason": " ".join(terms.reason.split()),
        "kind": terms.kind,
        "effect": terms.effect,
    }


def _write(row: Outage, given: Outage, **columns: object) -> bool:
    """Save what differs, one step further in its sequence, and bring the caller's row up to date."""
    differs = [name for name, value in columns.items() if getattr(row, name) != value]
    if not differs:
        return False
    for name, value in columns.items():
        setattr(row, name, value)
    row.sequence += 1
    row.save()
    given.refresh_from_db()
    return True


def _require_sound(terms: Terms, *, now: dt.datetime, is_new: bool) -> None:
    if not terms.reason.strip():
        raise OutageRefused("reason", "Say why, in a few words: members ask.")
    planned = terms.kind == Outage.Kind.PLANNED
    if planned and terms.ends_at is None:
        raise OutageRefused("ends_at", "A planned outage has an end; give the one you expect.")
    if terms.ends_at is not None and terms.ends_at <= terms.starts_at:
        raise OutageRefused("ends_at", "It would end before it has begun; give a later end.")
    if terms.ends_at is not None and terms.ends_at - terms.starts_at > LONGEST:
        raise OutageRefused(
            "ends_at",
            f"That is more than {LONGEST.days} days. For so long, set the relay's status to off the air instead.",
        )
    if is_new and planned and terms.starts_at < now:
        raise OutageRefused(
            "starts_at", "That is past. Choose unplanned to report what has happened already."
        )
    if is_new and terms.starts_at < now - REPORTED_WITHIN:
        raise OutageRefused(
            "starts_at",
            f"That is more than {REPORTED_WITHIN.days} days ago; report it with a later beginning.",
        )
    if not planned and terms.starts_at > now:
        raise OutageRefused("starts_at", "That is still ahead, so it is planned: choose planned.")


def _require_free(relay: Relay, terms: Terms, *, beside: Outage | None = None) -> None:
    rows = standing().filter(relay=relay)
    if beside is not None:
        rows = rows.exclude(pk=beside.pk)
    if terms.ends_at is not None:
        rows = rows.filter(starts_at__lt=terms.ends_at)
    other = rows.filter(Q(ends_at__isnull=True) | Q(ends_at__gt=terms.starts_at)).first()
    if other is not None:
        raise OutageRefused(
            "starts_at",
            f"{relay.name} has an outage in that time already ({other.reason}); change that one instead.",
        )
