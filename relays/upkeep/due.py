"""What is due: the task board, and the standing of one task."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.conf import settings
from django.db.models import Max, QuerySet
from django.utils.translation import gettext, ngettext

from clubops import clock
from clubops.members.models import Member
from relays.models import UpkeepTask
from relays.upkeep import people, rhythm

SOON_DAYS = 30


@dataclass(frozen=True, slots=True)
class Standing:
    """A task today: when it is due by its rhythm and with what it was put off to, and who is asked."""

    task: UpkeepTask
    by_rhythm_on: dt.date
    due_on: dt.date
    last_done_on: dt.date | None
    days: int
    asked: Member | None

    @property
    def state(self) -> str:
        """overdue, soon (within 30 days) or later."""
        if self.days < 0:
            return "overdue"
        return "soon" if self.days <= SOON_DAYS else "later"

    @property
    def words(self) -> str:
        """How far away it is: due today, due in 3 days, 12 days overdue."""
        return days_in_words(self.days)


@dataclass(frozen=True, slots=True)
class Board:
    """All active tasks by urgency, earliest first."""

    overdue: list[Standing] = field(default_factory=list)
    soon: list[Standing] = field(default_factory=list)
    later: list[Standing] = field(default_factory=list)

    @property
    def everything(self) -> list[Standing]:
        return [*self.overdue, *self.soon, *self.later]


def days_in_words(days: int) -> str:
    """Days from today in words."""
    if days == 0:
        return gettext("due today")
    if days > 0:
        return ngettext("due in %(count)s day", "due in %(count)s days", days) % {"count": days}
    return ngettext("%(count)s day overdue", "%(count)s days overdue", -days) % {"count": -days}


def club_day(now: dt.datetime) -> dt.date:
    """The date on the club's calendars."""
    return clock.to_wall(now, settings.CLUB_ZONE).date()


def active_tasks() -> QuerySet[UpkeepTask]:
    """Every task that is not laid to rest, with all that is asked of it here."""
    rows = UpkeepTask.objects.filter(is_active=True)
    return rows.select_related("site__steward", "relay__site__steward", "responsible", "stand_in")


def standing_of(task: UpkeepTask, *, today: dt.date) -> Standing:
    """The standing of one task."""
    return _standing(task, task.records.aggregate(last=Max("done_on"))["last"], today)


def standings(tasks: QuerySet[UpkeepTask], *, today: dt.date) -> list[Standing]:
    """The standing of each task, most urgent first."""
    rows = tasks.annotate(last_done_on=Max("records__done_on"))
    found = [_standing(task, task.last_done_on, today) for task in rows]
    return sorted(found, key=lambda each: (each.due_on, each.task.name, each.task.pk))


def board(*, today: dt.date) -> Board:
    """The task board."""
    made = Board()
    for standing in standings(active_tasks(), today=today):
        getattr(made, standing.state).append(standing)
    return made


def of_member(member: Member, *, today: dt.date) -> list[Standing]:
    """The tasks that wait for this member, most urgent first."""
    rows = active_tasks().filter(responsible=member) | active_tasks().filter(stand_in=member)
    return [each for each in standings(rows, today=today) if each.asked == member]


def shift(tasks: Iterable[UpkeepTask], *, days: int, today: dt.date) -> int:
    """Put tasks off by so many days from when they are due, or from today if that is past; how many."""
    count = 0
    for task in tasks:
        due_on = max(standing_of(task, today=today).due_on, today)
        task.postponed_to = due_on + dt.timedelta(days=days)
        task.save(update_fields=["postponed_to"])
        count += 1
    return count


def _standing(task: UpkeepTask, last_done_on: dt.date | None, today: dt.date) -> Standing:
    by_rhythm_on = rhythm.next_due(task.plan, last_done_on)
    due_on = max(by_rhythm_on, task.postponed_to or by_rhythm_on)
    return Standing(task, by_rhythm_on, due_on, last_done_on, (due_on - today).days, people.asked(task))
