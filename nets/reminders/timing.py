"""When a duty is reminded of: decisions on plain values."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext, ngettext


@dataclass(frozen=True, slots=True)
class Rule:
    """Remind `before` the session, but no later than `until_before` it, when the next rule takes over."""

    name: str
    before: dt.timedelta
    until_before: dt.timedelta


RULES = (
    Rule("week", dt.timedelta(days=7), dt.timedelta(days=1)),
    Rule("day", dt.timedelta(days=1), dt.timedelta(hours=2)),
    Rule("two hours", dt.timedelta(hours=2), dt.timedelta(0)),
)


@dataclass(frozen=True, slots=True)
class Reminder:
    """One reminder of one duty: its rule, when it is due and until when it makes sense."""

    rule: str
    due_at: dt.datetime
    not_after: dt.datetime


def reminders(starts_at: dt.datetime, assigned_at: dt.datetime) -> Iterator[Reminder]:
    """The reminders of a duty at `starts_at` that was given at `assigned_at`, earliest first.

    A duty given late makes the reminder whose time has passed due at once, so that everybody is written to
    when they are given a duty within the week; the one after that comes at its own time.
    """
    for rule in RULES:
        due_at = max(starts_at - rule.before, assigned_at)
        not_after = starts_at - rule.until_before
        if due_at < not_after:
            yield Reminder(rule.name, due_at, not_after)


def spoken_span(span: dt.timedelta) -> str:
    """How far away something is: in 7 days, in 23 hours, in 95 minutes, now."""
    minutes = round(span.total_seconds() / 60)
    if minutes < 1:
        return gettext("now")
    if minutes < 120:
        return ngettext("in %(count)s minute", "in %(count)s minutes", minutes) % {"count": minutes}
    if minutes < 48 * 60:
        return gettext("in %(count)s hours") % {"count": round(minutes / 60)}
    return gettext("in %(count)s days") % {"count": round(minutes / (24 * 60))}
