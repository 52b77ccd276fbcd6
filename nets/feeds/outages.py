"""Outages of relays as calendar entries, for the calendar of the relay and for the club's.

An outage keeps a counter of its own (`Outage.sequence`), and its row is never made again. One whose end nobody knows
is shown for whole days, one more for every day that it lasts; the entry's SEQUENCE leaves room for them, so that it
rises with each of them and again when the end is known. No entry names a person.
"""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.db.models import Q
from django.urls import reverse

from nets.calendars import entries
from nets.feeds.entries import KEPT
from relays.models import Outage, Relay

DAY = dt.timedelta(days=1)
# An outage may last sixty days (relays.outages.LONGEST); a known end is one step of these.
MOST_DAYS = 99


def events(*, now: dt.datetime, relay: Relay | None = None) -> list[entries.SingleEvent]:
    """Outages of the relay, or of all: those ahead, running, over or called off not longer ago than others are kept."""
    recent = Q(ends_at__isnull=True) | Q(ends_at__gt=now - KEPT)
    rows = Outage.objects.filter(recent).select_related("relay__site")
    if relay is not None:
        rows = rows.filter(relay=relay)
    return [_event(row, now) for row in rows if row.called_off_at is None or row.called_off_at > now - KEPT]


def _event(outage: Outage, now: dt.datetime) -> entries.SingleEvent:
    open_days = 0 if outage.ends_at else _days_open(outage, now)
    end = outage.ends_at or outage.starts_at + open_days * DAY
    unknown = "" if outage.ends_at else ", nobody knows until when"
    return entries.SingleEvent(
        kind="outage",
        seed=str(outage.public_id),
        title=f"{outage.relay.name}: {outage.get_effect_display()}{unknown}",
        starts_at=outage.starts_at,
        duration=end - outage.starts_at,
        sequence=outage.sequence * (MOST_DAYS + 1) + open_days,
        created=outage.created_at,
        last_modified=_last_modified(outage, open_days),
        status="cancelled" if outage.is_called_off else "confirmed",
        description=f"{outage.get_kind_display().capitalize()}: {outage.reason}",
        location=_place(outage),
        url=settings.SITE_ADDRESS + reverse("relays:page", args=[outage.relay.slug]),
    )


def _place(outage: Outage) -> str:
    return f"{outage.relay.name}, {outage.relay.output_mhz:.3f} MHz"


def _last_modified(outage: Outage, open_days: int) -> dt.datetime:
    if not open_days:
        return outage.changed_at
    return max(outage.changed_at, outage.starts_at + (open_days - 1) * DAY)


def _days_open(outage: Outage, now: dt.datetime) -> int:
    """How many whole days it is shown for: today is always one of them."""
    return min(MOST_DAYS, max(1, -((outage.starts_at - now) // DAY)))
