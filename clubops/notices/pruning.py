"""Taking old rows out of the ledger without letting any of them be sent again.

A rule that wants a notice whose row is gone has it made again. So only those rows go that no rule can want: closed
ones whose `not_after` lies past (`wanted.reconcile` makes nothing for which it is too late), where the row of a
closed notice that is still wanted follows its wish's `not_after`. `keep` comes on top of that, for people.

The clock decides here what is lost for good, so one reading of it is not enough: after a first run, a silence or a
jump, a run only notes the time, and the next one believes it.
"""

from __future__ import annotations

import datetime as dt

from django.db.models import Exists, OuterRef, Q

from clubops.notices import health
from clubops.notices.models import Heartbeat, Notice

State = Notice.State
CLOSED = (State.SENT, State.FAILED, State.MISSED, State.WITHDRAWN)
CHUNK = 500
MOST_A_RUN = 20_000
LONGEST_GAP = dt.timedelta(days=2)


def may_begin(*, now: dt.datetime) -> bool:
    """Whether the clock can be believed and the rules have had their say; notes that a run was here."""
    rows = {row.name: row.ran_at for row in Heartbeat.objects.all()}
    before, planned = rows.get(health.PRUNING), rows.get(health.PLANNING)
    health.beat(health.PRUNING, now=now)
    steady = before is not None and dt.timedelta(0) <= now - before <= LONGEST_GAP
    return steady and planned is not None and abs(now - planned) <= health.LONGEST_PLANNING_SILENCE


def prune(*, now: dt.datetime, keep: dt.timedelta, most: int = MOST_A_RUN) -> int:
    """Remove closed notices that have lain past for longer than `keep`; how many. At most `most`, the rest later.

    Each few hundred go by a transaction of their own: killed half-way, the next run finds the rest.
    """
    old = _old(now - keep)
    carries_a_younger = Notice.objects.filter(carried_by=OuterRef("pk")).exclude(old)
    rows = Notice.objects.filter(old).exclude(Exists(carries_a_younger))
    removed = 0
    while removed < most:
        keys = list(rows.order_by("pk").values_list("pk", flat=True)[: min(CHUNK, most - removed)])
        if not keys:
            break
        # Once more by the same conditions: an officer may have sent one again meanwhile.
        removed += rows.filter(pk__in=keys).delete()[1].get(Notice._meta.label, 0)
    return removed


def _old(cutoff: dt.datetime) -> Q:
    """Closed, told of where it had to be, and all that it was about before `cutoff`."""
    over = Q(event_at__isnull=True) | Q(event_at__lt=cutoff)
    return over & Q(state__in=CLOSED, not_after__lt=cutoff, needs_report=False)
