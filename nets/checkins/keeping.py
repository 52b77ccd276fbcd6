"""Keeping the log of a session: opening it, closing it, and the lock under which everything is written.

Two people logging together are put in one order by the lock on the log's own row, and the log's version counts
every change once.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction

from clubops import clock
from clubops.members.models import Member
from nets import report
from nets.checkins.typed import Evening
from nets.models import Duty, Session, SessionLog
from relays import paths
from relays.models import Relay

# A log may be opened this long before its session, and reopened this long after it.
OPENS_BEFORE = dt.timedelta(hours=6)
REOPENS_WITHIN = dt.timedelta(hours=12)


class LogRefused(ValueError):
    """Something that cannot be done to this log now; `sentence` says why and what would help."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def evening_of(session: Session) -> Evening:
    """What the typed words of this session's log are read against; tonight's relay and its links come first."""
    tonight = session.relay_in_use
    relays = list(Relay.objects.order_by("name"))
    if tonight is not None:
        linked = set(tonight.linked_to.values_list("pk", flat=True))
        relays.sort(key=lambda each: (each.pk != tonight.pk, each.pk not in linked))
    return Evening(session.net.zone, session.starts_at, tuple(relays))


def log_of(session: Session) -> SessionLog:
    """The log of the session; made, still unopened, the first time somebody asks."""
    log, _made = SessionLog.objects.get_or_create(session_id=session.pk)
    return log


@contextmanager
def writing(session: Session) -> Iterator[SessionLog]:
    """The locked log inside a transaction; saved with its version raised by each `turn_page`."""
    log_of(session)
    with transaction.atomic():
        yield SessionLog.objects.select_for_update().get(session=session)


def turn_page(log: SessionLog) -> int:
    """The version of the change about to be written; saves the log."""
    log.version += 1
    log.save()
    return log.version


def too_early(session: Session, *, now: dt.datetime) -> str:
    """Why the log cannot be opened yet, as a sentence; empty when it can, or when it was."""
    if now >= session.starts_at - OPENS_BEFORE or SessionLog.objects.filter(
        session=session, opened_at__isnull=False
    ):
        return ""
    opens = clock.to_wall(session.starts_at - OPENS_BEFORE, session.net.zone)
    return (
        f"This session is still ahead; its log can be opened from {opens:%H:%M} on {opens.day} {opens:%B %Y}."
    )


def open_log(session: Session, *, by: str, now: dt.datetime, net_control: Member | None = None) -> SessionLog:
    """Start the session. Opening an open log changes nothing; a closed one is reopened.

    Raises `LogRefused` when the session is called off or lies too far ahead or behind.
    """
    with writing(session) as log:
        if log.is_open:
            return log
        if log.is_closed:
            _require_reopenable(session, now)
            log.closed_at, log.closed_by, log.summary = None, "", {}
            _set_state(session, Session.State.SCHEDULED)
            _note(log, "reopened", by, now)
        else:
            open_first(log, session, by=by, now=now, net_control=net_control)
        turn_page(log)
        return log


def open_first(
    log: SessionLog, session: Session, *, by: str, now: dt.datetime, net_control: Member | None = None
) -> None:
    """Start a session whose locked log was never opened; the caller turns the page. Raises `LogRefused`."""
    if session.state == Session.State.CANCELLED:
        raise LogRefused("This session is called off. If it takes place after all, put it back first.")
    if sentence := too_early(session, now=now):
        raise LogRefused(sentence)
    log.opened_at, log.opened_by = now, by
    log.net_control = net_control or _rostered(session)
    _note(log, "opened", by, now)


def _require_reopenable(session: Session, now: dt.datetime) -> None:
    if now > session.ends_at + REOPENS_WITHIN:
        raise LogRefused(
            "This log was closed long ago and stays closed; corrections and late entries are still taken, "
            "and the report shows them."
        )


def _rostered(session: Session) -> Member | None:
    duty = session.duties.filter(role=Duty.Role.NET_CONTROL).exclude(state=Duty.State.DECLINED).first()
    return duty.member if duty else None


def _note(log: SessionLog, what: str, by: str, now: dt.datetime) -> None:
    log.events = [*log.events, {"what": what, "by": by, "at": now.isoformat()}]


def _set_state(session: Session, state: str) -> None:
    """Held or not changes nothing that a calendar says, so the session's own counter stays."""
    session.state = state
    session.save(update_fields=["state", "changed_at"])


def close_log(session: Session, *, by: str, now: dt.datetime, remark: str | None = None) -> SessionLog:
    """End the session and keep its figures as they stand. Closing a closed log changes nothing.

    Raises `LogRefused` when it was never opened.
    """
    _predict_the_rest(session, now)
    with writing(session) as log:
        if log.is_closed:
            return log
        if log.opened_at is None:
            raise LogRefused("This session was never started; there is nothing to close.")
        if remark is not None:
            log.remark = remark.strip()
        log.closed_at, log.closed_by = max(now, log.opened_at), by
        log.summary = report.figures(session)
        _note(log, "closed", by, now)
        _set_state(session, Session.State.HELD)
        turn_page(log)
        return log


def _predict_the_rest(session: Session, now: dt.datetime) -> None:
    """At closing there is time to work out the paths that were out of date when their station called in."""
    rows = session.check_ins.filter(predicted_margin_db=None).exclude(station=None).exclude(relay=None)
    for row in rows.select_related("station", "relay__site"):
        assert row.station is not None
        assert row.relay is not None
        stored = paths.verdict_now(row.station, row.relay, now=now)
        row.predicted_margin_db = stored.talk_in_margin_db
        row.predicted_probability = stored.talk_in_probability
        row.save(update_fields=["predicted_margin_db", "predicted_probability"])
