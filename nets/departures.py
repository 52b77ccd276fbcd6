"""One session other than its rule says: called off, put back, moved, on another relay, added.

Each refuses, with a sentence, what cannot be. Nobody else changes the schedule while one of them looks.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction

from clubops import clock
from clubops.templatetags.measures import wall_time, whole_date
from nets import conflicts, duties, schedule
from nets.models import Duty, EarlierRule, Net, Session
from relays import outages
from relays.models import Relay

# Further ahead nobody plans a single evening; a wrong year is more likely.
FARTHEST = dt.timedelta(days=366)
LEAST_REASON = 3


class DepartureRefused(ValueError):
    """A session that cannot be as asked; `field` is what was asked for, or "", the message a sentence."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.field = field


def _locked(session: Session, now: dt.datetime) -> Session:
    """The session as it is now, if it may still be changed, and nobody else's to change meanwhile."""
    schedule.lock()
    rows = Session.objects.select_for_update(of=("self",)).select_related(
        "net__relay", "relay", "earlier_rule__relay"
    )
    row = rows.get(pk=session.pk)
    if row.starts_at <= now:
        began = wall_time(row.starts_at, row.net.zone)
        raise DepartureRefused(
            f"This session began on {began}; what has begun is history and stays as it is."
        )
    return row


@transaction.atomic
def call_off(session: Session, *, reason: str, now: dt.datetime) -> Session:
    """Call the session off. The reason is shown to everybody."""
    row = _locked(session, now)
    if len(reason.strip()) < LEAST_REASON:
        raise DepartureRefused(
            "Say why it is called off, such as “Storm warning”: everybody reads the reason.", "reason"
        )
    if not schedule.call_off(row, note=reason.strip()):
        raise DepartureRefused(f"This session is called off already: {row.note}")
    return row


@transaction.atomic
def put_back(session: Session, *, now: dt.datetime) -> Session:
    """Undo `call_off`, if the channel is still free."""
    row = _locked(session, now)
    if row.state != Session.State.CANCELLED:
        raise DepartureRefused("This session is not called off; there is nothing to put back.")
    _require_active(row.net)
    # The people in its chairs may be away by now; they can be replaced only once it is back.
    _require_channel(row, now, "")
    # Where the rule has changed meanwhile, planning would call it off again.
    row.is_extra = row.is_extra or not schedule.rule_gives(row.net, row.occurrence_date)
    schedule.restore(row)
    return row


@transaction.atomic
def move(session: Session, *, wall: dt.datetime, now: dt.datetime) -> Session:
    """Let the session meet at that wall time in the net's own zone; at its usual time it is moved no more."""
    row = _locked(session, now)
    _require_scheduled(row)
    at = _instant(wall, row.net, now, "date")
    usual = schedule.rule_start(row.net, row.occurrence_date)
    wanted = None if at == usual else at
    if at == row.starts_at:
        raise DepartureRefused(f"It is already on {wall_time(at, row.net.zone)}; give another time.", "time")
    row.moved_to, row.starts_at, row.ends_at = wanted, at, at + (row.ends_at - row.starts_at)
    _require_channel(row, now, "time")
    _require_people(row, "time")
    schedule.amend(row)
    return row


@transaction.atomic
def use_relay(session: Session, *, relay: Relay | None, now: dt.datetime) -> Session:
    """Let the session meet on another relay, this once; None for where the net always meets."""
    row = _locked(session, now)
    _require_scheduled(row)
    wanted = None if relay is not None and relay == row.terms.relay else relay
    if wanted == row.relay:
        where = wanted.name if wanted else "where the net always meets"
        raise DepartureRefused(f"It is already {'on ' if wanted else ''}{where}; choose another.", "relay")
    _require_on_the_air(wanted or row.terms.relay)
    _require_no_outage(wanted or row.terms.relay, row)
    row.relay = wanted
    _require_channel(row, now, "relay")
    schedule.amend(row)
    return row


@transaction.atomic
def add_extra(
    net: Net, *, wall: dt.datetime, relay: Relay | None = None, note: str = "", now: dt.datetime
) -> Session:
    """Add a session on a date on which no rule of the net has one."""
    schedule.lock()
    _require_active(net)
    at = _instant(wall, net, now, "date")
    existing = net.sessions.filter(occurrence_date=wall.date()).first()
    if existing is not None:
        state = "called off; put it back instead" if existing.state == Session.State.CANCELLED else "planned"
        raise DepartureRefused(
            f"{net.name} has a session of {whole_date(wall.date())} already; it is {state}. A net meets at most "
            "once a date.",
            "date",
        )
    if schedule.rule_gives(net, wall.date()):
        raise DepartureRefused(
            f"By its rule {net.name} meets on {whole_date(wall.date())} in any case.", "date"
        )
    terms = schedule.terms_on(net, wall.date())
    other = None if relay == terms.relay else relay
    _require_on_the_air(other or terms.relay)
    usual = schedule.rule_start(net, wall.date())
    row = Session(
        net=net,
        occurrence_date=wall.date(),
        moved_to=None if at == usual else at,
        starts_at=at,
        ends_at=at + terms.duration,
        relay=other,
        note=note.strip(),
        is_extra=True,
        earlier_rule=terms if isinstance(terms, EarlierRule) else None,
    )
    _require_channel(row, now, "time")
    schedule.amend(row)
    return row


def require_possible(session: Session, *, now: dt.datetime) -> None:
    """Raise `DepartureRefused` where a session as edited clashes with another net, or moves its people elsewhere."""
    schedule.lock()
    if session.state != Session.State.SCHEDULED or session.ends_at <= now:
        return
    _require_channel(session, now, "")
    stored = Session.objects.filter(pk=session.pk).first()
    if stored is not None and stored.starts_at != session.starts_at:
        _require_people(session, "")


def _require_channel(session: Session, now: dt.datetime, field: str) -> None:
    try:
        conflicts.require_free(conflicts.Meeting.of(session), now=now)
    except conflicts.Clash as clash:
        raise DepartureRefused(str(clash), field) from clash


def _require_people(session: Session, field: str) -> None:
    for duty in session.duties.exclude(state=Duty.State.DECLINED).select_related("member", "station"):
        _require_person_free(session, duty, field)


def _require_person_free(session: Session, duty: Duty, field: str) -> None:
    who = f"{duty.member.call_sign}, {duty.get_role_display()} of this session,"
    if other := duties.booked_elsewhere(duty.member, session):
        raise DepartureRefused(
            f"{who} is then {other.get_role_display()} of {other.session.net}. Choose another time, or find "
            "somebody else for one of the two chairs first.",
            field,
        )
    if duties.away(duty.member, session):
        raise DepartureRefused(
            f"{who} is then away. Choose another time, or find somebody else for the chair first.", field
        )


def _require_scheduled(session: Session) -> None:
    if session.state != Session.State.SCHEDULED:
        raise DepartureRefused("This session is called off; put it back before you change it.")


def _require_active(net: Net) -> None:
    if not net.is_active:
        raise DepartureRefused(f"{net.name} is switched off; switch it on before you plan a session of it.")


def _require_on_the_air(relay: Relay | None) -> None:
    if relay is not None and not relay.is_on_the_air:
        note = f" ({relay.status_note.rstrip('.')})" if relay.status_note else ""
        raise DepartureRefused(
            f"{relay.name} is {relay.get_status_display()}{note}; choose a relay that is on the air.", "relay"
        )


def _require_no_outage(relay: Relay | None, row: Session) -> None:
    """Nobody moves a session on to a relay that is silent then; the usual place is refused too."""
    found = outages.between(row.starts_at, row.ends_at, relay=relay) if relay is not None else []
    silent = next((each for each in found if each.silences), None)
    if silent is not None:
        raise DepartureRefused(
            f"{silent.relay.name} is off the air at that time ({silent.reason.rstrip('.')}); choose another relay.",
            "relay",
        )


def _instant(wall: dt.datetime, net: Net, now: dt.datetime, field: str) -> dt.datetime:
    try:
        at = clock.to_utc(wall, net.zone).at
    except clock.UnusableTime as problem:
        raise DepartureRefused(str(problem), field) from problem
    if at <= now:
        raise DepartureRefused(
            f"{wall_time(at, net.zone)} is past; it is now {wall_time(now, net.zone)}. Give a time to come.",
            field,
        )
    if at > now + FARTHEST:
        raise DepartureRefused(
            f"{whole_date(wall.date())} is more than a year away; check the year, or change the net itself.",
            field,
        )
    return at
