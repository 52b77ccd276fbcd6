"""The words of every notice about upkeep, written when it is sent, from the records as they are then."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.urls import reverse

from clubops.members.models import Member
from clubops.notices import kinds
from clubops.notices.kinds import Letter, Link, Untrue
from clubops.notices.models import Notice
from clubops.templatetags.measures import wall_time, whole_date
from relays.models import ReadingKind, UpkeepTask
from relays.upkeep import due, hazards, people, readings, renewals, rhythm, wishes
from relays.upkeep.due import Standing

REMINDS = "This only reminds; local codes, the law and licensed practice decide."
DONE = "It has been done meanwhile, or put off."


def task_due(notice: Notice, now: dt.datetime) -> Letter:
    """It is your turn: what, where, by when, and what can hurt you."""
    standing = _standing(notice, now)
    if standing.days < 0:
        raise Untrue("The day has passed; it is told of as overdue.")
    if standing.days > standing.task.lead_days:
        raise Untrue(DONE)
    task = standing.task
    if standing.asked is None:
        first = f"{task.name} at {task.where} is {standing.words}, and nobody is responsible for it."
    else:
        first = f"{task.name} at {task.where} is {standing.words}."
    return _task_letter(standing, f"{task.name}, {task.where}: {standing.words}", first)


def task_overdue(notice: Notice, now: dt.datetime) -> Letter:
    """It is late; to a steward or officer it says who was asked."""
    standing = _standing(notice, now)
    if standing.days >= 0:
        raise Untrue(DONE)
    task = standing.task
    first = f"{task.name} at {task.where} is {standing.words}."
    if standing.asked is None:
        first += " Nobody is responsible for it."
    elif standing.asked != notice.recipient:
        first += f" {standing.asked.name}, {standing.asked.call_sign}, was asked; perhaps help is wanted."
    return _task_letter(standing, f"{standing.words.capitalize()}: {task.name}, {task.where}", first)


def reading_outside(notice: Notice, now: dt.datetime) -> Letter:
    """The newest value of a meter is outside its limits."""
    kind = (
        ReadingKind.objects.filter(pk=int(notice.subject_key.removeprefix("reading:")), is_active=True)
        .select_related("task__site", "task__relay__site")
        .first()
    )
    rows = readings.newest(kind) if kind else []
    if kind is None or not rows:
        raise Untrue("The reading has been taken back.")
    judged = readings.judge(kind, rows[0].value)
    if not judged.is_outside:
        raise Untrue("The newest reading is within its limits.")
    facts = [
        ("Read", wall_time(rows[0].at, notice.recipient.zone)),
        ("By", f"{rows[0].by.name}, {rows[0].by.call_sign}" if rows[0].by else "not known"),
        ("Limits", readings.limits_in_words(kind)),
        ("Trend", readings.outlook(kind, rows).sentence),
    ]
    return Letter(
        subject=f"{kind.name} at {kind.task.where}: {readings.figure(rows[0].value, kind.unit)}",
        lines=(f"{kind.name} at {kind.task.where}: {judged.sentence}.", *_cautions(kind.task)),
        facts=tuple(facts),
        links=(Link("The readings", _address("relays:upkeep_reading", kind.pk)),),
    )


def renewal_coming(notice: Notice, now: dt.datetime) -> Letter:
    """A paper ends, or has ended."""
    paper = renewals.named(notice.subject_key)
    today = due.club_day(now)
    if paper is None or f"/{paper.expires_on}/" not in notice.key:
        raise Untrue("It has been renewed.")
    left = paper.days_left(today)
    if left < 0:
        said = f"has ended: its last day was {whole_date(paper.expires_on)}"
    elif left > paper.leads[0]:
        raise Untrue("It is too early for this.")
    else:
        said = f"holds until {whole_date(paper.expires_on)}, {_days_left(left)}"
    facts = [("Last day", whole_date(paper.expires_on))]
    if paper.notes:
        facts.append(("Notes", paper.notes))
    return Letter(
        subject=f"{paper.words}, {paper.about}: {'ended' if left < 0 else 'ends'} {whole_date(paper.expires_on)}",
        lines=(f"{paper.words}, {paper.about}, {said}.", "When it is renewed, enter the new last day."),
        facts=tuple(facts),
        links=(Link("The papers", _address("relays:upkeep_renewals")),),
    )


def watcher(notice: Notice) -> Member | None:
    """Who hears that one could not be delivered: a steward, or an officer when it was for the steward."""
    return people.steward_of(None, other_than=[notice.recipient])


def register() -> None:
    """Make the kinds known to the ledger; called once, when the app is ready."""
    for kind in (
        kinds.Kind(wishes.DUE, "upkeep that is due", task_due, watcher),
        kinds.Kind(wishes.OVERDUE, "upkeep that is overdue", task_overdue, watcher, may_be_declined=False),
        kinds.Kind(
            wishes.OUTSIDE, "reading outside its limits", reading_outside, watcher, may_be_declined=False
        ),
        kinds.Kind(wishes.RENEWAL, "paper that runs out", renewal_coming, watcher, may_be_declined=False),
    ):
        kinds.register(kind)


def _standing(notice: Notice, now: dt.datetime) -> Standing:
    """The task of a notice today. Raises `Untrue` when it is gone, laid to rest, or nothing of the reader's now."""
    pk = int(notice.subject_key.removeprefix("upkeep:"))
    task: UpkeepTask | None = due.active_tasks().filter(pk=pk).first()
    if task is None:
        raise Untrue("The task has been laid to rest.")
    if notice.recipient not in people.chain(task):
        raise Untrue("Somebody else is asked now.")
    standing = due.standing_of(task, today=due.club_day(now))
    period = standing.by_rhythm_on if notice.kind == wishes.DUE else standing.due_on
    if f"/{period}/" not in notice.key:
        raise Untrue(DONE)
    return standing


def _task_letter(standing: Standing, subject: str, first: str) -> Letter:
    task = standing.task
    last = whole_date(standing.last_done_on) if standing.last_done_on else "never, as far as is written down"
    return Letter(
        subject=subject,
        lines=(first, *_cautions(task)),
        facts=(
            ("Due", whole_date(standing.due_on)),
            ("How often", rhythm.in_words(task.plan)),
            ("Last done", last),
        ),
        links=(Link("The task, and where to write it down", _address("relays:upkeep_task", task.pk)),),
    )


def _cautions(task: UpkeepTask) -> list[str]:
    said = [f"{each.label.capitalize()}: {each.caution}" for each in hazards.named(task.hazards)]
    return [*said, REMINDS] if said else []


def _days_left(left: int) -> str:
    if left == 0:
        return "which is today"
    return f"{left} day{'' if left == 1 else 's'} from now"


def _address(name: str, *args: object) -> str:
    return settings.SITE_ADDRESS + reverse(name, args=args)
