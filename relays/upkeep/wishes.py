"""What the ledger should hold about upkeep, from the records as they are.

One notice a person, task and period: its key holds the day the task was due, and that day moves only when the task is
done. Whatever the length of a downtime, what is sent afterwards is what is true then.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.conf import settings

from clubops import clock
from clubops.members.models import Member
from clubops.members.permissions import OFFICER
from clubops.notices import wanted
from clubops.notices.wanted import Wanted
from clubops.templatetags.measures import whole_date
from relays.models import Reading, ReadingKind
from relays.upkeep import due, people, readings, renewals
from relays.upkeep.due import Standing
from relays.upkeep.renewals import Paper

DUE = "upkeep_due"
OVERDUE = "upkeep_overdue"
OUTSIDE = "reading_outside"
RENEWAL = "renewal_coming"
KINDS = (DUE, OVERDUE, OUTSIDE, RENEWAL)

# Mail about upkeep is written for the morning; quiet hours still hold it for whoever chose others.
MORNING = dt.time(8)
# The day after it was due whoever is asked hears of it, then a steward, then an officer.
TELL_AFTER_DAYS = (1, 7, 28)
# A reading older than this is history.
READING_NEWS = dt.timedelta(days=14)
# The ledger, and what people are shown of it, looks this far ahead.
AHEAD = dt.timedelta(days=60)
# What stays true until somebody acts may be told whenever the sending works again.
NO_END = dt.timedelta(days=3650)


def top_up(*, now: dt.datetime) -> wanted.Reconciled:
    """Bring the ledger in step with upkeep. Safe to repeat, to kill and to run twice at once."""
    today = due.club_day(now)
    standings = due.standings(due.active_tasks(), today=today)
    wishes = [
        *due_wishes(standings),
        *overdue_wishes(standings),
        *reading_wishes(now),
        *renewal_wishes(today),
    ]
    near = (each for each in wishes if each.due_at is None or each.due_at <= now + AHEAD)
    return wanted.reconcile(near, kinds=KINDS, now=now)


def morning(day: dt.date) -> dt.datetime:
    """Eight o'clock by the club's clocks on that day."""
    return clock.to_utc(dt.datetime.combine(day, MORNING), settings.CLUB_ZONE).at


def _days(count: int) -> dt.timedelta:
    return dt.timedelta(days=count)


# Tasks -----------------------------------------------------------------------------------------------


def task_key(pk: int) -> str:
    return f"upkeep:{pk}"


def due_wishes(standings: list[Standing]) -> Iterator[Wanted]:
    """Ahead of the day, to whoever is asked; to a steward when nobody is. Good until the day is over."""
    for each in standings:
        recipient = each.asked or people.steward_of(each.task.the_site)
        if recipient is None:
            continue
        yield Wanted(
            # Of the day by its rhythm: a task that was put off is not reminded of again.
            key=f"{DUE}/{task_key(each.task.pk)}/{each.by_rhythm_on}/member:{recipient.pk}",
            recipient_id=recipient.pk,
            kind=DUE,
            subject_key=task_key(each.task.pk),
            title=f"{each.task.name}, {each.task.where}, due {whole_date(each.due_on)}",
            due_at=morning(each.due_on - _days(each.task.lead_days)),
            not_after=clock.local_day(each.due_on, settings.CLUB_ZONE).end,
        )


def overdue_wishes(standings: list[Standing]) -> Iterator[Wanted]:
    """After the day: to whoever is asked, a week later to a steward, four weeks later to an officer."""
    for each in standings:
        if each.days >= 0:
            continue
        for recipient, after in zip(people.chain(each.task), TELL_AFTER_DAYS, strict=False):
            if -each.days < after:
                break
            due_at = morning(each.due_on + _days(after))
            yield Wanted(
                key=f"{OVERDUE}/{task_key(each.task.pk)}/{each.due_on}/member:{recipient.pk}",
                recipient_id=recipient.pk,
                kind=OVERDUE,
                subject_key=task_key(each.task.pk),
                title=f"{each.task.name}, {each.task.where}, was due {whole_date(each.due_on)}",
                due_at=due_at,
                not_after=due_at + NO_END,
            )


# Readings --------------------------------------------------------------------------------------------


def reading_key(pk: int) -> str:
    return f"reading:{pk}"


def reading_wishes(now: dt.datetime) -> Iterator[Wanted]:
    """At once, to whoever is asked and to a steward but not to who read it; once as long as it stays outside."""
    fresh = Reading.objects.filter(at__gt=now - READING_NEWS).values("kind")
    kinds = ReadingKind.objects.filter(pk__in=fresh, is_active=True, task__is_active=True)
    for kind in kinds.select_related(
        "task__site__steward", "task__relay__site__steward", "task__responsible", "task__stand_in"
    ):
        run = readings.run_outside(readings.newest(kind))
        if not run or run[0].at <= now - READING_NEWS:
            continue
        for recipient in told_of_reading(kind, run[0]):
            yield Wanted(
                key=f"{OUTSIDE}/first:{run[-1].pk}/member:{recipient.pk}",
                recipient_id=recipient.pk,
                kind=OUTSIDE,
                subject_key=reading_key(kind.pk),
                title=f"{kind.name}, {kind.task.where}: {readings.figure(run[0].value, kind.unit)}",
                due_at=None,
                not_after=run[0].at + READING_NEWS,
            )


def told_of_reading(kind: ReadingKind, newest: Reading) -> list[Member]:
    """Who is told that a reading is outside: those who did not read it themselves."""
    found: list[Member] = []
    for member in (people.asked(kind.task), people.steward_of(kind.task.the_site)):
        if member is not None and member not in found and member != newest.by:
            found.append(member)
    return found


# Papers ----------------------------------------------------------------------------------------------


def renewal_wishes(today: dt.date) -> Iterator[Wanted]:
    """At each lead time to who sees to it, and to an officer too once it has ended."""
    for paper in renewals.papers():
        for lead, until in zip((*paper.leads, 0), (*paper.leads[1:], 0, None), strict=True):
            if not lead and paper.days_left(today) >= 0:
                continue  # an end is told of when it has come, as a misfortune is
            starts_on = paper.expires_on - _days(lead) if lead else paper.expires_on + _days(1)
            due_at = morning(starts_on)
            if until is None:
                not_after = due_at + NO_END
            elif until:
                not_after = morning(paper.expires_on - _days(until))
            else:
                not_after = clock.local_day(paper.expires_on, settings.CLUB_ZONE).end
            for recipient in told_of_paper(paper, has_ended=not lead):
                yield Wanted(
                    key=f"{RENEWAL}/{paper.key}/{paper.expires_on}/{lead}/member:{recipient.pk}",
                    recipient_id=recipient.pk,
                    kind=RENEWAL,
                    subject_key=paper.key,
                    title=f"{paper.words}, {paper.about}, until {whole_date(paper.expires_on)}",
                    due_at=due_at,
                    not_after=not_after,
                )


def told_of_paper(paper: Paper, *, has_ended: bool) -> list[Member]:
    """Who sees to it, and an officer once it has ended."""
    found = [paper.asked] if paper.asked else []
    officer = people.in_office(OFFICER, other_than=found) if has_ended else None
    return [*found, *([officer] if officer else [])]
