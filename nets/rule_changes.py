"""A net's rule is changed: what was held stays as it was, what is to come follows the new rule.

The old rule gets a last date and becomes an `EarlierRule`, a calendar series of its own that ends; the net goes
on under the new rule as a new series. A rule under which nothing has been held yet is simply replaced.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from django.db import transaction
from django.db.models import Max

from clubops import clock
from nets import recurrence, schedule
from nets.models import EarlierRule, Net, Session
from nets.schedule import Planned, Terms

_DAY = dt.timedelta(days=1)
# Two rules that give the same meetings this long are one.
ALIKE_FOR = dt.timedelta(weeks=53)
HOW = ("start_time", "zone", "duration_min", "relay_id", "simplex_mhz")
COPIED = ("relay", "simplex_mhz", "rule", "first_date", "start_time", "zone", "duration_min")


@dataclass(frozen=True)
class Succession:
    """How the rules of an edited net follow one another.

    `earlier` are to be saved and `gone` deleted; `changes` is false where the net goes on as it was.
    """

    net: Net
    changes: bool
    earlier: list[EarlierRule] = field(default_factory=list)
    gone: list[EarlierRule] = field(default_factory=list)

    @property
    def rules(self) -> list[Terms]:
        return [*self.earlier, self.net]


@transaction.atomic
def adopt(edited: Net, *, now: dt.datetime, found: Succession | None = None) -> Planned:
    """Save a net that was added or edited, and bring its sessions in step.

    `edited.first_date` is the day from which it is to meet as edited. Sessions that have begun, and those
    before that day, keep the rule under which they were planned. `found` is what `succeed` gave for it, where
    that was asked before; asking again would take its answer for a question.
    """
    schedule.lock()
    found = found or succeed(edited, now=now)
    edited.save()
    for row in found.gone:
        row.delete()
    for row in found.earlier:
        row.save()
    _hand_over(edited, found.earlier)
    return schedule.plan_sessions(edited, now=now)


def _hand_over(net: Net, earlier: Iterable[EarlierRule]) -> None:
    """Tell each session which rule was in force on its date. update(): the session itself has not changed."""
    since = dt.date.min
    for row in earlier:
        its_own = net.sessions.filter(occurrence_date__gte=since, occurrence_date__lte=row.last_date)
        its_own.exclude(earlier_rule=row).update(earlier_rule=row)
        since = row.last_date + _DAY
    net.sessions.filter(occurrence_date__gte=since, earlier_rule__isnull=False).update(earlier_rule=None)


def succeed(edited: Net, *, now: dt.datetime) -> Succession:
    """Work out how the rules of `edited` follow one another; nothing is saved.

    `edited.first_date` and `edited.rule` are brought to what is to be saved.
    """
    if edited.pk is None:
        return Succession(edited, changes=True)
    stored = Net.objects.get(pk=edited.pk)
    earlier = list(stored.earlier_rules.all())
    has_met = has_met_under(stored, now=now)
    since = edited.first_date
    if has_met or earlier:
        since = max(since, first_open_date(stored, now=now))
    if has_met and _goes_on(stored, edited, since):
        edited.rule, edited.first_date = stored.rule, stored.first_date
        switched = (edited.is_active, edited.ends_on) != (stored.is_active, stored.ends_on)
        return Succession(edited, switched, earlier)
    _start_on(edited, since)
    found = _cut(stored, edited, earlier, since)
    if has_met:
        closed = _closed(stored, since, now)
        found.earlier.extend([closed] if closed else [])
        edited.series_id = uuid.uuid4()
    else:
        _join(stored, edited, found, since)
    return found


def has_met_under(net: Net, *, now: dt.datetime) -> bool:
    """Whether anything was held, or was to be held, under the net's present rule."""
    if net.sessions.filter(earlier_rule=None, starts_at__lte=now).exists():
        return True
    first = recurrence.first_occurrence(
        net.anchored_rule, first_wall=net.first_wall, zone=net.zone, ends_on=net.ends_on
    )
    return first is not None and first.starts_at <= now


def has_history(net: Net, *, now: dt.datetime) -> bool:
    """Whether anything was held under any rule of the net, so that a change of it has a day to begin on."""
    return net.earlier_rules.exists() or has_met_under(net, now=now)


def first_open_date(net: Net, *, now: dt.datetime) -> dt.date:
    """The first local date, from today on, on which nothing of the net has begun yet."""
    today = clock.to_wall(now, net.zone).date()
    just_begun = schedule.given(schedule.rules_of(net), clock.Span(now - 2 * _DAY, now))
    row = net.sessions.filter(starts_at__lte=now, moved_to=None).aggregate(last=Max("occurrence_date"))
    begun = [each.date for each in just_begun] + ([row["last"]] if row["last"] else [])
    return max([today, *(date + _DAY for date in begun)])


def next_date(net: Net, *, now: dt.datetime) -> dt.date:
    """The next local date that the net's present rule gives, or the first one that is open."""
    since = first_open_date(net, now=now)
    midnight = clock.local_day(since, net.zone).start
    following = schedule.given([net], clock.Span(midnight, midnight + 10 * ALIKE_FOR))
    return following[0].date if following else since


def remaining_rule(terms: Terms, since: dt.date) -> recurrence.Rule:
    """The rule of `terms` as it goes on from `since`: a COUNT is less by the meetings before that date."""
    rule = terms.anchored_rule
    if rule.count is None:
        return rule
    before = recurrence.occurrences(
        rule,
        first_wall=terms.first_wall,
        zone=terms.zone,
        from_utc=clock.to_utc(terms.first_wall, terms.zone).at,
        until_utc=clock.local_day(since, terms.zone).start,
    )
    return replace(rule, count=max(1, rule.count - len(before)))


def _goes_on(terms: Terms, edited: Net, since: dt.date) -> bool:
    """Whether `edited` meets from `since` on just as `terms` would have, wherever and whenever."""
    if any(getattr(terms, name) != getattr(edited, name) for name in HOW):
        return False
    if isinstance(terms, Net) and _was_at_rest(terms, since) and not _was_at_rest(edited, since):
        return False
    if (terms.rule, terms.first_date) == (edited.rule, edited.first_date):
        return True
    old, new = remaining_rule(terms, since), edited.anchored_rule
    if (recurrence.plain_choices(old) or old) != (recurrence.plain_choices(new) or new):
        return False
    midnight = clock.local_day(since, edited.zone).start
    span = clock.Span(midnight, midnight + ALIKE_FOR)
    return _starts(terms, span) == _starts(edited, span)


def _was_at_rest(net: Net, since: dt.date) -> bool:
    """Whether the net was switched off or had ended: what it then did not hold must not appear afterwards."""
    return not net.is_active or (net.ends_on is not None and net.ends_on < since)


def _starts(terms: Terms, span: clock.Span) -> list[dt.datetime]:
    """When the rule meets in the span, whatever the net's last date."""
    rule, wall = recurrence.Rule.parse(terms.rule), terms.first_wall
    found = recurrence.occurrences(
        rule, first_wall=wall, zone=terms.zone, from_utc=span.start, until_utc=span.end
    )
    return [each.starts_at for each in found]


def _start_on(edited: Net, since: dt.date) -> None:
    """Let the rule begin with its first meeting on or after `since`, in the phase that it has."""
    if edited.first_date >= since:
        return
    midnight = clock.local_day(since, edited.zone).start
    edited.rule = str(remaining_rule(edited, since))
    first = recurrence.occurrences(
        edited.anchored_rule,
        first_wall=edited.first_wall,
        zone=edited.zone,
        from_utc=midnight,
        until_utc=midnight + 10 * ALIKE_FOR,
    )
    edited.first_date = first[0].wall.date() if first else since


def _cut(stored: Net, edited: Net, earlier: list[EarlierRule], since: dt.date) -> Succession:
    """The earlier rules up to the day before `since`, and those that with it never come into force."""
    found = Succession(edited, changes=True)
    for row in earlier:
        if row.last_date >= since:
            _end(row, since)
        (found.earlier if row.first_date <= row.last_date else found.gone).append(row)
    return found


def _end(row: EarlierRule, since: dt.date) -> None:
    if row.last_date != since - _DAY:
        row.last_date = since - _DAY
        row.sequence += 1


def _closed(stored: Net, since: dt.date, now: dt.datetime) -> EarlierRule | None:
    """The present rule as one that ends the day before `since`; None where it was never followed."""
    ends = [since - _DAY, *([stored.ends_on] if stored.ends_on else [])]
    if not stored.is_active:
        ends.append(last_held(stored, now=now) or dt.date.min)
    if min(ends) < stored.first_date:
        return None
    values = {name: getattr(stored, name) for name in COPIED}
    return EarlierRule(
        net=stored,
        series_id=stored.series_id,
        last_date=min(ends),
        # It ends now and did not before, which calendars must notice.
        sequence=stored.sequence + 1,
        created_at=stored.created_at,
        **values,
    )


def last_held(net: Net, *, now: dt.datetime) -> dt.date | None:
    """The local date of the last session that has begun and was not called off."""
    begun = net.sessions.filter(starts_at__lte=now).exclude(state=Session.State.CANCELLED)
    found: dt.date | None = begun.aggregate(last=Max("occurrence_date"))["last"]
    return found


def _join(stored: Net, edited: Net, found: Succession, since: dt.date) -> None:
    """Let the rule before one that nothing was held under go on until the new one begins.

    Where the two are the same a change was taken back: that leaves no seam, and the series is the old one.
    """
    last = found.earlier[-1] if found.earlier else None
    if last is None:
        return
    if last.last_date == stored.first_date - _DAY:
        _end(last, since)
    if last.last_date == since - _DAY and _goes_on(last, edited, since):
        edited.rule, edited.first_date, edited.series_id = last.rule, last.first_date, last.series_id
        edited.sequence = max(edited.sequence, last.sequence)
        found.gone.append(found.earlier.pop())
