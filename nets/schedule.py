"""Sessions: the meetings a net's rule gives, kept in step with the rule."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import transaction

from clubops import clock
from nets import recurrence
from nets.models import Net, Session

PLANNED_WEEKS = 12


@dataclass(frozen=True)
class Planned:
    """What `plan_sessions` did: how many sessions were made, retimed, called off and removed."""

    made: int = 0
    retimed: int = 0
    called_off: int = 0
    removed: int = 0


def occurrences(net: Net, span: clock.Span) -> list[recurrence.Occurrence]:
    """What the rule of `net` gives in the half-open `span`, up to the net's last date if it has one."""
    found = recurrence.occurrences(
        recurrence.Rule.parse(net.rule),
        first_wall=net.first_wall,
        zone=net.zone,
        from_utc=span.start,
        until_utc=span.end,
    )
    return [each for each in found if net.ends_on is None or each.wall.date() <= net.ends_on]


@transaction.atomic
def plan_sessions(net: Net, *, now: dt.datetime, weeks: int = PLANNED_WEEKS) -> Planned:
    """Bring the coming `weeks` of sessions in step with the rule of `net`. Repeating it changes nothing.

    Sessions that began before `now` are history and stay as they are. A coming session that the rule no
    longer gives is removed, unless people hold duties in it or somebody wrote a note: then it is called
    off, so that they are told. Sessions added or moved by hand keep their time.
    """
    # One planner a net at a time: two of them would both see the same session missing.
    net = Net.objects.select_for_update().get(pk=net.pk)
    span = clock.Span(now, now + dt.timedelta(weeks=weeks))
    wanted = {each.wall.date(): each for each in occurrences(net, span)} if net.is_active else {}
    coming = {
        session.occurrence_date: session
        for session in net.sessions.filter(starts_at__gte=now).prefetch_related("duties")
    }
    made = [date for date in wanted if date not in coming and not _has_begun(net, date, now)]
    for date in made:
        start = wanted[date].starts_at
        Session.objects.create(net=net, occurrence_date=date, starts_at=start, ends_at=start + net.duration)
    retimed = called_off = removed = 0
    for date, session in coming.items():
        if date in wanted:
            retimed += _retime(session, wanted[date].starts_at, net.duration)
        elif session.is_extra or session.starts_at >= span.end:
            continue
        elif session.duties.all() or session.note:
            called_off += call_off(session, note=session.note or "The schedule of this net has changed.")
        else:
            session.delete()
            removed += 1
    return Planned(len(made), retimed, called_off, removed)


def _has_begun(net: Net, date: dt.date, now: dt.datetime) -> bool:
    """A session moved by hand into the past is still that date's session: it must not be made twice."""
    return net.sessions.filter(occurrence_date=date, starts_at__lt=now).exists()


def _retime(session: Session, start: dt.datetime, duration: dt.timedelta) -> bool:
    """Give a session its time by the rule or by hand; true when that changed anything.

    The session's own counter stays: the net's rises with its rule, and calendars add the two.
    """
    start = session.moved_to or start
    if (session.starts_at, session.ends_at) == (start, start + duration):
        return False
    session.starts_at, session.ends_at = start, start + duration
    session.save()
    return True


def amend(session: Session) -> None:
    """Save a session that somebody edited by hand (another time, relay, state or note), as a new revision."""
    net = session.net
    start = (
        session.moved_to
        or clock.to_utc(dt.datetime.combine(session.occurrence_date, net.start_time), net.zone).at
    )
    session.is_extra = session.is_extra or not _rule_gives(net, session.occurrence_date)
    session.starts_at, session.ends_at = start, start + net.duration
    if session.pk:
        session.sequence += 1
    session.save()


def _rule_gives(net: Net, date: dt.date) -> bool:
    day = clock.local_day(date, net.zone)
    return any(each.wall.date() == date for each in occurrences(net, day))


def call_off(session: Session, *, note: str) -> bool:
    """Cancel a session, keeping its row so that calendars can show it as cancelled. False if it was already."""
    if session.state == Session.State.CANCELLED:
        return False
    session.state = Session.State.CANCELLED
    session.note = note
    session.sequence += 1
    session.save()
    return True


def restore(session: Session) -> bool:
    """Undo `call_off`. False if it was not cancelled."""
    if session.state != Session.State.CANCELLED:
        return False
    session.state = Session.State.SCHEDULED
    session.note = ""
    session.sequence += 1
    session.save()
    return True


def plan_all(*, now: dt.datetime, weeks: int = PLANNED_WEEKS) -> Planned:
    """`plan_sessions` for every net; the sums."""
    done = [plan_sessions(net, now=now, weeks=weeks) for net in Net.objects.all()]
    return Planned(
        sum(each.made for each in done),
        sum(each.retimed for each in done),
        sum(each.called_off for each in done),
        sum(each.removed for each in done),
    )
