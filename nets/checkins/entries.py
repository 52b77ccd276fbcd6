"""Entries of a log: writing one down, and correcting it.

Whatever the browser sends carries a key that it made itself: sent again, it changes nothing and gives back what
the first sending gave.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping
from typing import Any

from clubops.members.models import Member, Station
from nets import duties
from nets.checkins.keeping import LogRefused, evening_of, open_first, turn_page, writing
from nets.checkins.typed import Evening, TypedError, as_signed, read_fields
from nets.models import CheckIn, Correction, Session
from relays import paths
from relays.models import Relay

# Farther from the session than this, or ahead of our own clock, a computer's clock is not believed.
BELIEVED = dt.timedelta(hours=18)
AHEAD = dt.timedelta(minutes=2)

TYPED = ("call_sign", "name", "place", "report", "via", "via_note", "traffic", "notes", "time")
CORRECTABLE = (*TYPED, "is_struck")


def record(
    session: Session,
    given: Mapping[str, Any],
    *,
    key: uuid.UUID,
    by: str,
    now: dt.datetime,
    evening: Evening | None = None,
) -> CheckIn:
    """Write a check-in. The same key again gives the row that is there, unchanged.

    `given` has what was typed (`TYPED`) and `heard_at`, the browser's clock when it was entered. The first
    entry opens the log. Raises `TypedError` and `LogRefused`.
    """
    if known := _known(key, session):
        return known
    evening = evening or evening_of(session)
    typed = {**dict.fromkeys(TYPED, ""), **{name: given[name] for name in TYPED if name in given}}
    typed["via"] = typed["via"] or _usual_way(session)
    has_time = bool(str(typed["time"]).strip())
    fields = read_fields(typed, evening, [name for name in TYPED if name != "time" or has_time])
    if signed := as_signed(str(typed["call_sign"])):
        # What makes it the same station makes it another place: worth keeping, but not as part of the call sign.
        fields["notes"] = f"Signed {signed}. {fields['notes']}".strip()
    fields.setdefault("heard_at", _believed(given.get("heard_at"), session, now))
    _name_the_relay(fields, session)
    with writing(session) as log:
        if known := _known(key, session):
            return known
        if log.opened_at is None:
            open_first(log, session, by=by, now=now)
        member = Member.objects.filter(call_sign=fields["call_sign"]).first()
        fields["name"] = fields["name"] or (member.name if member else "")
        return CheckIn.objects.create(
            key=key,
            session=session,
            **fields,
            **_standing(member, fields["relay"]),
            is_visitor=member is None,
            is_late_entry=has_time or now > session.ends_at + BELIEVED,
            logged_by=by,
            received_at=now,
            is_after_closing=log.is_closed,
            version=turn_page(log),
        )


def _known(key: uuid.UUID, session: Session) -> CheckIn | None:
    row = CheckIn.objects.filter(key=key).select_related("relay").first()
    if row is not None and row.session_id != session.pk:
        raise TypedError("key", "This entry already stands in the log of another session.")
    return row


def _usual_way(session: Session) -> str:
    relay = session.relay_in_use
    return f"relay:{relay.pk}" if relay else CheckIn.Via.SIMPLEX.value


def _name_the_relay(fields: dict[str, Any], session: Session) -> None:
    """Somebody passed on by another station was not heard by tonight's relay: that is worth comparing."""
    if fields.get("via") == CheckIn.Via.STATION:
        fields["relay"] = session.relay_in_use


def _believed(given: object, session: Session, now: dt.datetime) -> dt.datetime:
    """The browser's time where it can be right, else the time of arrival: some clocks were never set."""
    arrived = now if abs(now - session.starts_at) <= BELIEVED else session.starts_at
    try:
        at = dt.datetime.fromisoformat(str(given))
    except ValueError:
        return arrived
    if at.tzinfo is None or at > now + AHEAD or abs(at - session.starts_at) > BELIEVED:
        return arrived
    return at.astimezone(dt.UTC)


def _standing(member: Member | None, relay: Relay | None) -> dict[str, Any]:
    """The member, their station, and what had been predicted of it: only what is known to be up to date."""
    station: Station | None = duties.station_for(member) if member else None
    stored = paths.fresh_verdict(station, relay) if station and relay else None
    return {
        "member": member,
        "station": station,
        "predicted_margin_db": stored.talk_in_margin_db if stored else None,
        "predicted_probability": stored.talk_in_probability if stored else None,
    }


def correct(
    session: Session,
    entry: uuid.UUID,
    changes: Mapping[str, Any],
    *,
    key: uuid.UUID,
    by: str,
    now: dt.datetime,
) -> CheckIn:
    """Change the named fields (`CORRECTABLE`) of a check-in and keep what they said before.

    Two people correcting different fields both get their way; of the same field the later one stands, and
    both are in the history. Raises `TypedError` and `LogRefused`.
    """
    with writing(session) as log:
        row = session.check_ins.select_related("relay", "member").filter(key=entry).first()
        if row is None:
            raise LogRefused("The entry that this corrects is not in the log.")
        if Correction.objects.filter(key=key).exists():
            return row
        wanted = [name for name in CORRECTABLE if name in changes]
        fields = read_fields(changes, evening_of(session), wanted)
        _name_the_relay(fields, session)
        before = _shown(row)
        if fields.get("heard_at") not in (None, row.heard_at):
            fields["is_late_entry"] = True
        for name, value in fields.items():
            setattr(row, name, value)
        _follow(row, before)
        after = _shown(row)
        changed = [name for name in after if after[name] != before[name]]
        if not changed:
            return row
        Correction.objects.create(
            key=key,
            check_in=row,
            number=row.corrections.count() + 1,
            made_by=by,
            made_at=now,
            before={name: before[name] for name in changed},
            after={name: after[name] for name in changed},
            is_after_closing=log.is_closed,
        )
        row.version = turn_page(log)
        row.save()
        return row


def _shown(row: CheckIn) -> dict[str, Any]:
    """What a correction may change, as the history keeps it."""
    return {
        "call_sign": row.call_sign,
        "name": row.name,
        "place": row.place,
        "report": row.report,
        "via": row.path_words,
        "traffic": str(row.traffic),
        "notes": row.notes,
        "heard_at": row.heard_at.isoformat(),
        "is_struck": row.is_struck,
    }


def _follow(row: CheckIn, before: dict[str, Any]) -> None:
    """Another call sign is another person; another relay is another path. Otherwise both stay as they were."""
    member = row.member
    if row.call_sign != before["call_sign"]:
        former = member.name if member else ""
        member = Member.objects.filter(call_sign=row.call_sign).first()
        if row.name in {"", former}:
            row.name = member.name if member else ""
        row.is_visitor = member is None
    if row.call_sign != before["call_sign"] or _shown(row)["via"] != before["via"]:
        for name, value in _standing(member, row.relay).items():
            setattr(row, name, value)
