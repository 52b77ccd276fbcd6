"""The words of every notice about upkeep, written when it is sent, from the records as they are then."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext, gettext_noop, ngettext, pgettext

from clubops.members.models import Member
from clubops.notices import kinds
from clubops.notices.kinds import Letter, Link, Untrue
from clubops.notices.models import Notice
from clubops.templatetags.measures import wall_time, whole_date
from relays.models import ReadingKind, UpkeepTask
from relays.upkeep import due, hazards, people, readings, renewals, rhythm, wishes
from relays.upkeep.due import Standing

REMINDS = gettext_noop("This only reminds; local codes, the law and licensed practice decide.")
DONE = "It has been done meanwhile, or put off."


def task_due(notice: Notice, now: dt.datetime) -> Letter:
    """It is your turn: what, where, by when, and what can hurt you."""
    standing = _standing(notice, now)
    if standing.days < 0:
        raise Untrue("The day has passed; it is told of as overdue.")
    if standing.days > standing.task.lead_days:
        raise Untrue(DONE)
    words = _words(standing)
    first = gettext("%(task)s at %(place)s is %(due)s.")
    if standing.asked is None:
        first = gettext("%(task)s at %(place)s is %(due)s, and nobody is responsible for it.")
    return _task_letter(standing, gettext("%(task)s, %(place)s: %(due)s") % words, first % words)


def task_overdue(notice: Notice, now: dt.datetime) -> Letter:
    """It is late; to a steward or officer it says who was asked."""
    standing = _standing(notice, now)
    if standing.days >= 0:
        raise Untrue(DONE)
    words = _words(standing)
    first = gettext("%(task)s at %(place)s is %(due)s.") % words
    if standing.asked is None:
        first += " " + gettext("Nobody is responsible for it.")
    elif standing.asked != notice.recipient:
        asked = {"name": standing.asked.name, "call_sign": standing.asked.call_sign}
        first += " " + gettext("%(name)s, %(call_sign)s, was asked; perhaps help is wanted.") % asked
    subject = capfirst(gettext("%(due)s: %(task)s, %(place)s") % words)
    return _task_letter(standing, subject, first)


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
        (gettext("Read"), wall_time(rows[0].at, notice.recipient.zone)),
        (
            pgettext("who read a meter", "By"),
            f"{rows[0].by.name}, {rows[0].by.call_sign}" if rows[0].by else gettext("not known"),
        ),
        (gettext("Limits"), readings.limits_in_words(kind)),
        (gettext("Trend"), readings.outlook(kind, rows).sentence),
    ]
    meter = gettext("%(meter)s at %(place)s") % {"meter": kind.name, "place": kind.task.where}
    return Letter(
        subject=f"{meter}: {readings.figure(rows[0].value, kind.unit)}",
        lines=(f"{meter}: {judged.sentence}.", *_cautions(kind.task)),
        facts=tuple(facts),
        links=(Link(gettext("The readings"), _address("relays:upkeep_reading", kind.pk)),),
    )


def renewal_coming(notice: Notice, now: dt.datetime) -> Letter:
    """A paper ends, or has ended."""
    paper = renewals.named(notice.subject_key)
    today = due.club_day(now)
    if paper is None or f"/{paper.expires_on}/" not in notice.key:
        raise Untrue("It has been renewed.")
    left = paper.days_left(today)
    day = whole_date(paper.expires_on)
    words = {"paper": paper.words, "about": paper.about, "day": day, "left": _days_left(left)}
    if left < 0:
        subject = gettext("%(paper)s, %(about)s: ended %(day)s")
        said = gettext("%(paper)s, %(about)s, has ended: its last day was %(day)s.")
    elif left > paper.leads[0]:
        raise Untrue("It is too early for this.")
    else:
        subject = gettext("%(paper)s, %(about)s: ends %(day)s")
        said = gettext("%(paper)s, %(about)s, holds until %(day)s, %(left)s.")
    facts = [(gettext("Last day"), day)]
    if paper.notes:
        facts.append((gettext("Notes"), paper.notes))
    return Letter(
        subject=subject % words,
        lines=(said % words, gettext("When it is renewed, enter the new last day.")),
        facts=tuple(facts),
        links=(Link(gettext("The papers"), _address("relays:upkeep_renewals")),),
    )


def watcher(notice: Notice) -> Member | None:
    """Who hears that one could not be delivered: a steward, or an officer when it was for the steward."""
    return people.steward_of(None, other_than=[notice.recipient])


def titled(notice: Notice) -> str:
    """What such a notice is about, in the language spoken just now; its day is the one it was entered for."""
    _kind, key, day, *_rest = notice.key.split("/")
    words = {"day": whole_date(dt.date.fromisoformat(day))}
    if notice.kind == wishes.RENEWAL:
        paper = renewals.named(key)
        if paper is None:
            return notice.title
        words |= {"paper": paper.words, "about": paper.about}
        return gettext("%(paper)s, %(about)s, until %(day)s") % words
    task = UpkeepTask.objects.filter(pk=int(key.removeprefix("upkeep:"))).first()
    if task is None:
        return notice.title
    words |= {"task": task.name, "place": task.where}
    return gettext("%(task)s, %(place)s, due %(day)s") % words


def register() -> None:
    """Make the kinds known to the ledger; called once, when the app is ready."""
    for kind in (
        kinds.Kind(wishes.DUE, gettext_noop("upkeep that is due"), task_due, watcher, titled=titled),
        kinds.Kind(
            wishes.OVERDUE,
            gettext_noop("upkeep that is overdue"),
            task_overdue,
            watcher,
            may_be_declined=False,
            titled=titled,
        ),
        kinds.Kind(
            wishes.OUTSIDE,
            gettext_noop("reading outside its limits"),
            reading_outside,
            watcher,
            may_be_declined=False,
        ),
        kinds.Kind(
            wishes.RENEWAL,
            gettext_noop("paper that runs out"),
            renewal_coming,
            watcher,
            may_be_declined=False,
            titled=titled,
        ),
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


def _words(standing: Standing) -> dict[str, str]:
    return {"task": standing.task.name, "place": standing.task.where, "due": standing.words}


def _task_letter(standing: Standing, subject: str, first: str) -> Letter:
    task = standing.task
    last = whole_date(standing.last_done_on) if standing.last_done_on else ""
    return Letter(
        subject=subject,
        lines=(first, *_cautions(task)),
        facts=(
            (gettext("Due"), whole_date(standing.due_on)),
            (gettext("How often"), rhythm.in_words(task.plan)),
            (gettext("Last done"), last or gettext("never, as far as is written down")),
        ),
        links=(
            Link(gettext("The task, and where to write it down"), _address("relays:upkeep_task", task.pk)),
        ),
    )


def _cautions(task: UpkeepTask) -> list[str]:
    named = hazards.named(task.hazards)
    said = [f"{capfirst(gettext(each.label))}: {gettext(each.caution)}" for each in named]
    return [*said, gettext(REMINDS)] if said else []


def _days_left(left: int) -> str:
    if left == 0:
        return gettext("which is today")
    return ngettext("%(count)s day from now", "%(count)s days from now", left) % {"count": left}


def _address(name: str, *args: object) -> str:
    return settings.SITE_ADDRESS + reverse(name, args=args)
