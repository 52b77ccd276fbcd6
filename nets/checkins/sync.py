"""What the log page and the site say to each other: a batch of what was done, and the changes since.

An operation is a small object with `key` (a UUID made by the browser) and `do`:

* `check_in`: the fields of `entries.record`, and `heard_at`; its key becomes the check-in's;
* `correct`: `entry` (the key of the check-in) and `changes`;
* `roll`: `line` (the key of the line) and `state`;
* `roll_add`: `call_sign`.

Each stands alone: one that is refused does not stop the next, and all of them may be sent again at any time.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from nets.checkins import entries, rollcall
from nets.checkins.keeping import LogRefused
from nets.checkins.typed import TypedError, read_key
from nets.models import CheckIn, RollCall, Session, SessionLog

MOST_AT_ONCE = 100


def apply(
    session: Session, operations: Sequence[Any], *, by: str, now: dt.datetime
) -> list[dict[str, str | bool]]:
    """Do each operation; what became of it as {key, saved, sentence}. Raises `LogRefused` for too many."""
    if len(operations) > MOST_AT_ONCE:
        raise LogRefused(f"{len(operations)} at once are too many; send at most {MOST_AT_ONCE}.")
    return [_outcome(session, each, by, now) for each in operations]


def _outcome(session: Session, operation: Any, by: str, now: dt.datetime) -> dict[str, str | bool]:
    if not isinstance(operation, Mapping):
        return {"key": "", "saved": False, "sentence": "An operation is an object with a key."}
    outcome: dict[str, str | bool] = {"key": str(operation.get("key", "")), "saved": True, "sentence": ""}
    try:
        _do(session, operation, by, now)
    except (TypedError, LogRefused) as problem:
        outcome |= {"saved": False, "sentence": problem.sentence}
    return outcome


def _do(session: Session, operation: Mapping[str, Any], by: str, now: dt.datetime) -> None:
    key = read_key(operation.get("key"))
    match operation.get("do"):
        case "check_in":
            entries.record(session, operation, key=key, by=by, now=now)
        case "correct":
            changes = operation.get("changes")
            if not isinstance(changes, Mapping):
                raise TypedError("changes", "A correction names the fields that it changes.")
            entry = read_key(operation.get("entry"))
            entries.correct(session, entry, changes, key=key, by=by, now=now)
        case "roll":
            line = read_key(operation.get("line"))
            rollcall.set_state(session, line, str(operation.get("state")), by=by, now=now)
        case "roll_add":
            rollcall.add(session, str(operation.get("call_sign") or ""), by=by)
        case other:
            raise TypedError("do", f"“{other}” is nothing that can be done to a log.")


def version(session: Session) -> int:
    """How many changes this log has seen."""
    return SessionLog.objects.filter(session=session).values_list("version", flat=True).first() or 0


def changes_since(session: Session, seen: int) -> dict[str, Any]:
    """Everything in the log that changed after version `seen`; 0 gives the whole log.

    The version is read first: a change that comes in between is given twice rather than never. Somebody who has
    seen more than there is saw another database: they get everything.
    """
    log = SessionLog.objects.filter(session=session).first() or SessionLog(session=session)
    seen = seen if seen <= log.version else 0
    rows = session.check_ins.filter(version__gt=seen).select_related("relay").prefetch_related("corrections")
    earlier = set(
        CheckIn.objects.filter(
            session__net=session.net, session__starts_at__lt=session.starts_at, is_struck=False
        ).values_list("call_sign", flat=True)
    )
    return {
        "version": log.version,
        "opened_at": _iso(log.opened_at),
        "closed_at": _iso(log.closed_at),
        "entries": [_entry(row, is_new=row.call_sign not in earlier) for row in rows],
        "roll": [_line(line) for line in session.roll.filter(version__gt=seen)],
    }


def _entry(row: CheckIn, *, is_new: bool) -> dict[str, Any]:
    return {
        "key": str(row.key),
        "call_sign": row.call_sign,
        "is_whole": row.is_whole,
        "is_visitor": row.is_visitor,
        "is_new": is_new and row.is_whole,
        "name": row.name,
        "place": row.place,
        "heard_at": _iso(row.heard_at),
        "is_late_entry": row.is_late_entry,
        "report": row.report,
        "via": f"relay:{row.relay_id}" if row.relay_id and row.via == CheckIn.Via.RELAY else row.via,
        "via_note": row.via_note,
        "path": row.path_words,
        "traffic": row.traffic,
        "notes": row.notes,
        "is_struck": row.is_struck,
        "is_after_closing": row.is_after_closing,
        "logged_by": row.logged_by,
        "corrections": len(row.corrections.all()),
    }


def _line(line: RollCall) -> dict[str, Any]:
    return {
        "key": str(line.key),
        "position": line.position,
        "call_sign": line.call_sign,
        "name": line.name,
        "state": line.state,
    }


def _iso(at: dt.datetime | None) -> str | None:
    return at.astimezone(dt.UTC).isoformat() if at else None
