"""Whether the sending goes on: the one answer behind the health page and `check_club`."""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass

from django.db.models import Max, Min

from clubops.notices.models import Heartbeat, Notice

SENDING = "send due notices"
PLANNING = "plan sessions and their notices"
PRUNING = "clear away what is long over"
LONGEST_SILENCE = dt.timedelta(minutes=5)
LONGEST_PLANNING_SILENCE = dt.timedelta(minutes=30)
OLDEST_TOLERATED = dt.timedelta(minutes=15)
LATELY = dt.timedelta(days=1)


def beat(name: str, *, now: dt.datetime, problem: str = "") -> None:
    """Note that a regular job has run, and what stood in its way."""
    Heartbeat.objects.update_or_create(pk=name, defaults={"ran_at": now, "problem": problem[:300]})


@dataclass(frozen=True, slots=True)
class Health:
    """Numbers and sentences; no names. `troubles` is empty when all is well.

    `mail_problem` is what the mail server said, for the office only.
    """

    sending_ran_at: dt.datetime | None
    planning_ran_at: dt.datetime | None
    pruning_ran_at: dt.datetime | None
    due_now: int
    oldest_due_at: dt.datetime | None
    waiting: int
    failed_lately: int
    missed_lately: int
    last_sent_at: dt.datetime | None
    troubles: tuple[str, ...]
    mail_problem: str = ""

    @property
    def is_well(self) -> bool:
        return not self.troubles


def look(*, now: dt.datetime) -> Health:
    """How the sending stands at `now`."""
    beats = {row.name: row for row in Heartbeat.objects.all()}
    ready = Notice.objects.filter(state=Notice.State.WAITING, next_try_at__lte=now)
    oldest = ready.aggregate(at=Min("next_try_at"))["at"]
    lately = Notice.objects.filter(due_at__gte=now - LATELY, due_at__lte=now)
    sending, planning, pruning = beats.get(SENDING), beats.get(PLANNING), beats.get(PRUNING)
    return Health(
        sending_ran_at=sending.ran_at if sending else None,
        planning_ran_at=planning.ran_at if planning else None,
        pruning_ran_at=pruning.ran_at if pruning else None,
        due_now=ready.count(),
        oldest_due_at=oldest,
        waiting=Notice.objects.filter(state=Notice.State.WAITING).count(),
        failed_lately=lately.filter(state=Notice.State.FAILED).count(),
        missed_lately=lately.filter(state=Notice.State.MISSED).count(),
        last_sent_at=Notice.objects.aggregate(at=Max("sent_at"))["at"],
        troubles=tuple(_troubles(sending, planning, oldest, now)),
        mail_problem=sending.problem if sending else "",
    )


def _troubles(
    sending: Heartbeat | None, planning: Heartbeat | None, oldest: dt.datetime | None, now: dt.datetime
) -> list[str]:
    said = _silence("Sending", sending, LONGEST_SILENCE, now)
    said += _silence("Planning", planning, LONGEST_PLANNING_SILENCE, now)
    if sending is not None and sending.problem:
        said.append("The mail server cannot be reached or will not talk; notices wait.")
    if oldest is not None and now - oldest > OLDEST_TOLERATED:
        said.append(f"A notice has been ready to go for {_minutes(now - oldest)} and has not gone.")
    return said


def _silence(job: str, row: Heartbeat | None, longest: dt.timedelta, now: dt.datetime) -> list[str]:
    if row is None:
        return [f"{job} has never run: start the beat and a worker."]
    if row.ran_at - now > longest:
        return [f"{job} ran {_minutes(row.ran_at - now)} in the future: a clock was or is wrong."]
    if now - row.ran_at > longest:
        return [
            f"{job} has not run for {_minutes(now - row.ran_at)}: the beat, the broker or the worker is down."
        ]
    return []


def _minutes(span: dt.timedelta) -> str:
    minutes = int(span.total_seconds() // 60)
    if minutes >= 48 * 60:
        return f"{minutes // (24 * 60)} days"
    if minutes >= 120:
        return f"{minutes // 60} hours"
    return f"{minutes} minutes"


def as_json(found: Health) -> dict[str, object]:
    """The same for a monitor: times in ISO 8601 UTC, counts, sentences."""
    values = dataclasses.asdict(found)
    del values["mail_problem"]
    return {"well": found.is_well} | {
        name: value.isoformat() if isinstance(value, dt.datetime) else value for name, value in values.items()
    }
