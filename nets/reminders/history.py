"""What somebody was told last about a chair, and what is true now.

A mail that was true when it was sent must not stay the last word after the session moved or somebody else took
the chair. What each mail told is kept on its notice; comparing that with the records gives the change to tell.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from typing import Any

from clubops.notices.models import Notice
from nets import feeds, spoken
from nets.models import Duty, Session

INVITE = "duty_invite"
REMINDER = "duty_reminder"
CHANGE = "duty_change"
TELLING = (INVITE, REMINDER, CHANGE)
# Sessions longer ago than this are history; nobody is told of changes to them.
LOOK_BACK = dt.timedelta(days=14)


@dataclass(frozen=True, slots=True)
class Told:
    """What a mail said of one person's duty. `standing` is on, off (called off) or released (not theirs now).

    `seed` and `sequence` are those of its calendar entry; `sequence` never falls from mail to mail.
    `in_calendar` when a calendar object that asks for it went along, now or before.
    """

    standing: str
    starts_at: dt.datetime
    minutes: int
    title: str
    where: str
    url: str
    seed: str
    sequence: int
    in_calendar: bool = False

    def to_json(self) -> dict[str, Any]:
        return asdict(self) | {"starts_at": self.starts_at.isoformat()}

    @classmethod
    def from_json(cls, facts: dict[str, Any]) -> Told:
        return cls(**facts | {"starts_at": dt.datetime.fromisoformat(facts["starts_at"])})

    def says_the_same_as(self, other: Told) -> bool:
        """Whether a reader would learn nothing new."""
        if self.standing != "on" and other.standing != "on":
            return True
        return (self.standing, self.starts_at, self.where) == (other.standing, other.starts_at, other.where)


def subject_key(session_id: int, role: str) -> str:
    """A chair: it stays the same whoever sits in it."""
    return f"chair:{session_id}/{role}"


def chair_of(key: str) -> tuple[int, str]:
    """The session and the role of a `subject_key`."""
    session_id, _, role = key.removeprefix("chair:").partition("/")
    return int(session_id), role


def duty_about(notice: Notice) -> Duty | None:
    """The duty the recipient of `notice` holds in its chair today."""
    session_id, role = chair_of(notice.subject_key)
    rows = Duty.objects.select_related("member", "session__net__relay", "session__relay", "station")
    return rows.filter(session=session_id, role=role, member=notice.recipient_id).first()


def truth_of(duty: Duty) -> Told:
    """What a mail about this duty would say now."""
    entry = feeds.duty_event(duty)
    session = duty.session
    if duty.state == Duty.State.DECLINED:
        standing = "released"
    elif session.state == Session.State.CANCELLED or not session.net.is_active:
        standing = "off"
    else:
        standing = "on"
    return Told(
        standing=standing,
        starts_at=entry.starts_at,
        minutes=round(entry.duration.total_seconds() / 60),
        title=spoken.duty_title(session.net.name, duty.role),
        where=entry.location,
        url=entry.url,
        seed=entry.seed,
        sequence=entry.sequence,
    )


def following(truth: Told, before: LastWord | None) -> Told:
    """`truth` with the SEQUENCE it is told with: never below what was told before, above it for a change.

    The records' own counter begins anew when somebody is given a chair again; calendars must not see that.
    """
    if before is None:
        return truth
    changed = not before.told.says_the_same_as(truth)
    return replace(
        truth,
        sequence=max(truth.sequence, before.told.sequence + changed),
        in_calendar=before.told.in_calendar,
    )


@dataclass(frozen=True, slots=True)
class LastWord:
    """The notice that told somebody last about a chair, and what it told."""

    notice: Notice
    told: Told


def last_words(*, now: dt.datetime) -> Iterator[LastWord]:
    """For every person and chair of a recent or coming session: what they were told last."""
    rows = Notice.objects.filter(kind__in=TELLING, told__isnull=False, event_at__gt=now - LOOK_BACK).exclude(
        state=Notice.State.FAILED
    )
    latest: dict[tuple[int, str], Notice] = {}
    for notice in rows.select_related("recipient").order_by("claimed_at", "pk"):
        latest[notice.recipient_id, notice.subject_key] = notice
    for notice in latest.values():
        yield LastWord(notice, Told.from_json(notice.told or {}))


def last_word(notice: Notice) -> LastWord | None:
    """What the recipient of `notice` was told last about its chair by another notice."""
    rows = Notice.objects.filter(
        kind__in=TELLING,
        recipient=notice.recipient_id,
        subject_key=notice.subject_key,
        told__isnull=False,
    )
    found = (
        rows.exclude(pk=notice.pk).exclude(state=Notice.State.FAILED).order_by("-claimed_at", "-pk").first()
    )
    return LastWord(found, Told.from_json(found.told or {})) if found else None
