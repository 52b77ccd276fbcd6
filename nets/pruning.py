"""What is cleared away by itself once nobody can ask for it: notices, calendars, addresses, drafts."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.conf import settings
from django.db.models import Model

from clubops.notices import pruning as ledger
from nets import feeds
from nets.models import FeedKey, RotaDraft
from nets.rota import draft as drafts

MOST_A_RUN = 2000


@dataclass(frozen=True, slots=True)
class Cleared:
    """How many rows of each went."""

    notices: int = 0
    calendars: int = 0
    addresses: int = 0
    drafts: int = 0


def clear_old(*, now: dt.datetime) -> Cleared:
    """Remove what has been over for longer than the settings keep it. Bounded, safe to repeat and to kill.

    What calendars said of sessions and duties stays: their numbers must never fall, and what was called off must
    not come back as held.
    """
    if not ledger.may_begin(now=now):
        return Cleared()
    keep = dt.timedelta(days=settings.KEEP_DAYS)
    return Cleared(
        notices=ledger.prune(now=now, keep=keep),
        calendars=feeds.drop_unasked(),
        addresses=_old_addresses(now - keep),
        drafts=_old_drafts(now - keep),
    )


def _old_addresses(cutoff: dt.datetime) -> int:
    """Addresses revoked long ago; one without a row is answered like one that is revoked."""
    return _remove([key.pk for key in FeedKey.objects.filter(revoked_at__lt=cutoff)[:MOST_A_RUN]], FeedKey)


def _old_drafts(cutoff: dt.datetime) -> int:
    """Drafts that no worker has and whose last session lies before `cutoff`: nothing can be published from them."""
    rows = RotaDraft.objects.filter(made_at__lt=cutoff)
    rows = rows.exclude(state__in=[RotaDraft.State.WAITING, RotaDraft.State.SOLVING]).order_by("made_at")
    return _remove([row.pk for row in rows if drafts.horizon_of(row) < cutoff][:MOST_A_RUN], RotaDraft)


def _remove(keys: list[int], model: type[Model]) -> int:
    """The rows themselves, not counting what goes along with them."""
    return model._default_manager.filter(pk__in=keys).delete()[1].get(model._meta.label, 0)
