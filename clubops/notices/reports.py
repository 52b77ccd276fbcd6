"""Telling somebody what did not arrive, once.

A notice that failed or was missed is reported to the watcher of its kind. All that is unreported goes into
the one report that is still waiting for that person, so that a week of downtime is one mail and not fifty.
The report itself is a notice like any other, but nobody is told of a report that failed: that is seen in the
office.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils.crypto import get_random_string
from django.utils.translation import gettext, gettext_noop, ngettext

from clubops.members.models import Member
from clubops.notices import kinds, reasons, wanted
from clubops.notices.kinds import Kind, Letter, Link, Untrue
from clubops.notices.models import Notice

KIND = "undelivered"
WORTH_KNOWING_FOR = dt.timedelta(days=14)
MOST_LINES = 30


def tell(*, now: dt.datetime) -> int:
    """Put every unreported failure into a report to its watcher; how many notices were put into one."""
    by_watcher: dict[int, list[Notice]] = defaultdict(list)
    unwatched: list[int] = []
    for notice in Notice.objects.filter(needs_report=True).select_related("recipient"):
        watcher = _watcher(notice)
        if watcher is None:
            unwatched.append(notice.pk)
        else:
            by_watcher[watcher.pk].append(notice)
    Notice.objects.filter(pk__in=unwatched).update(needs_report=False)
    return sum(_report(watcher, notices, now) for watcher, notices in sorted(by_watcher.items()))


def _watcher(notice: Notice) -> Member | None:
    try:
        return kinds.named(notice.kind).watcher(notice)
    except kinds.UnknownKind:
        return None


def _report(watcher_id: int, notices: list[Notice], now: dt.datetime) -> int:
    """Attach the notices to this watcher's waiting report, or to a new one.

    Both rows change in one transaction and the report is touched first: a worker about to claim it waits for
    that, and then writes with the new lines in it. Of two workers reporting the same notices one attaches
    none of them, and takes back the report it had made.
    """
    with transaction.atomic():
        report = _waiting_report(watcher_id) or _new_report(watcher_id, now)
        attached = Notice.objects.filter(pk__in=[each.pk for each in notices], needs_report=True).update(
            needs_report=False, report=report
        )
        if not attached and not report.reports_on.exists():
            report.delete()
    return attached


def _waiting_report(watcher_id: int) -> Notice | None:
    waiting = Notice.objects.filter(kind=KIND, recipient=watcher_id, state=Notice.State.WAITING, attempts=0)
    report = waiting.order_by("pk").first()
    # The update is the lock; none changed means that it was claimed a moment ago.
    if report is None or not waiting.filter(pk=report.pk).update(title=report.title):
        return None
    return report


def _new_report(watcher_id: int, now: dt.datetime) -> Notice:
    key = f"{KIND}/{now:%Y%m%dT%H%M%S}/{get_random_string(8)}/member:{watcher_id}"
    wanted.enqueue(
        wanted.Wanted(
            key=key,
            recipient_id=watcher_id,
            kind=KIND,
            subject_key=f"member:{watcher_id}",
            title="Notices that did not arrive",
            due_at=None,
            not_after=now + WORTH_KNOWING_FOR,
        ),
        now=now,
    )
    return Notice.objects.get(key=key)


def write(report: Notice, _now: dt.datetime) -> Letter:
    """The report as a letter. Raises `Untrue` when everything in it was sent after all."""
    still = [Notice.State.FAILED, Notice.State.MISSED]
    rows = list(report.reports_on.filter(state__in=still).select_related("recipient")[: MOST_LINES + 1])
    if not rows:
        raise Untrue("Everything it was to report has been sent after all.")
    count = report.reports_on.filter(state__in=still).count()
    facts = [
        (
            f"{row.recipient.call_sign}, {gettext(kinds.words(row.kind))}",
            f"{kinds.title(row)}. {reasons.said_again(row.error)}",
        )
        for row in rows
    ]
    if count > MOST_LINES:
        more = gettext("%(count)s more") % {"count": count - MOST_LINES}
        facts = [*facts[:MOST_LINES], (gettext("and"), more)]
    subject = ngettext("One notice did not arrive", "%(count)s notices did not arrive", count)
    line = ngettext(
        "One notice could not be sent, or it was too late to send. Nothing more is tried by itself.",
        "%(count)s notices could not be sent, or it was too late to send. Nothing more is tried by itself.",
        count,
    )
    return Letter(
        subject=subject % {"count": count},
        lines=(
            line % {"count": count},
            gettext("Please tell these people another way if it still matters."),
        ),
        facts=tuple(facts),
        links=(
            Link(
                gettext("See all notices in the office"),
                settings.SITE_ADDRESS + reverse("admin:notices_notice_changelist"),
            ),
        ),
    )


UNDELIVERED = Kind(
    name=KIND, words=gettext_noop("report of what did not arrive"), render=write, may_be_declined=False
)
