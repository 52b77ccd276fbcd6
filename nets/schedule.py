"""Sessions: the meetings a net's rules give, kept in step with them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import astuple, dataclass, field

from django.db import connection, transaction
from django.db.models import QuerySet

from clubops import clock
from clubops.templatetags.measures import whole_date
from nets import recurrence
from nets.models import Duty, EarlierRule, Net, Session

PLANNED_WEEKS = 12
RULE_CHANGED = "The schedule of this net has changed."
# A start that shifts by no more than this leaves a promise standing. Common practice, no source.
KEEPS_A_YES = dt.timedelta(minutes=30)
# An arbitrary number that names the lock below among PostgreSQL's advisory locks.
_LOCK_KEY = 0x6E657473

Terms = Net | EarlierRule


def lock() -> None:
    """Wait until nobody else is changing when or where a net meets; held to the end of the transaction.

    One lock for all of them, since a new net clashes with rows that are not there yet. SQLite needs none: a
    transaction here begins by taking the write lock. Raises `TransactionManagementError` outside of one.
    """
    if not connection.in_atomic_block:
        raise transaction.TransactionManagementError("The schedule is locked inside a transaction only.")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_LOCK_KEY])


# What the rules give -------------------------------------------------------------------------------


@dataclass(frozen=True)
class Given:
    """One meeting as a rule gives it; `date` is its local date and its identity."""

    terms: Terms
    date: dt.date
    starts_at: dt.datetime
    shift: clock.Shift

    @property
    def ends_at(self) -> dt.datetime:
        return self.starts_at + self.terms.duration


def rules_of(net: Net) -> list[Terms]:
    """The rules of `net` in the order in which they are in force; the present one is the net itself."""
    return [*(net.earlier_rules.all() if net.pk else ()), net]


def given(rules: Iterable[Terms], span: clock.Span) -> list[Given]:
    """Meetings that start in the half-open `span`, earliest first."""
    found = [
        Given(terms, each.wall.date(), each.starts_at, each.shift)
        for terms in rules
        if terms.last_date is None or terms.last_date >= (span.start - dt.timedelta(days=1)).date()
        for each in recurrence.occurrences(
            recurrence.Rule.parse(terms.rule),
            first_wall=terms.first_wall,
            zone=terms.zone,
            from_utc=span.start,
            until_utc=span.end,
            ends_on=terms.last_date,
        )
    ]
    return sorted(found, key=lambda each: (each.starts_at, each.date))


def terms_on(net: Net, date: dt.date) -> Terms:
    """The rule in force on that local date."""
    return next((rule for rule in rules_of(net) if rule.last_date and date <= rule.last_date), net)


def in_words(net: Net, *, now: dt.datetime) -> str:
    """When the net meets, with every change that is already announced: "every Tuesday ..., until ...; then ..."."""
    today = clock.to_wall(now, net.zone).date()
    said = [
        terms.in_words + (f" until {whole_date(terms.last_date)}" if terms.last_date else "")
        for terms in rules_of(net)
        if terms is net or not terms.last_date or terms.last_date >= today
    ]
    if len(said) == 1 and net.first_date > today:
        return f"{said[0]}, from {whole_date(net.first_date)}"
    return "; then ".join(said)


def rule_gives(net: Net, date: dt.date) -> bool:
    """Whether a rule of `net` has a meeting on that local date."""
    terms = terms_on(net, date)
    return any(each.date == date for each in given([terms], clock.local_day(date, terms.zone)))


def rule_start(net: Net, date: dt.date) -> dt.datetime:
    """When a session of that local date starts unless it is moved."""
    terms = terms_on(net, date)
    return clock.to_utc(dt.datetime.combine(date, terms.start_time), terms.zone).at


# Keeping the sessions in step ----------------------------------------------------------------------


@dataclass(frozen=True)
class Planned:
    """What `plan_sessions` did: how many sessions were made, retimed, called off, removed and put back."""

    made: int = 0
    retimed: int = 0
    called_off: int = 0
    removed: int = 0
    put_back: int = 0


@dataclass(frozen=True)
class Difference:
    """What has to become of the coming sessions so that they follow the rules.

    `kept` and `retimed` pair a session with what the rule gives for its date; a moved one keeps its time.
    `put_back` are among them. Sessions are made up to `until`; those that are there already follow the rules
    however far ahead they are.
    """

    made: list[Given]
    until: dt.datetime
    kept: list[tuple[Session, Given]] = field(default_factory=list)
    retimed: list[tuple[Session, Given]] = field(default_factory=list)
    put_back: list[Session] = field(default_factory=list)
    called_off: list[Session] = field(default_factory=list)
    removed: list[Session] = field(default_factory=list)


def difference(
    net: Net, rules: Iterable[Terms], *, now: dt.datetime, weeks: int = PLANNED_WEEKS
) -> Difference:
    """Compare the sessions of `net` that have not begun with what `rules` give; new ones within `weeks`.

    A rota may reach further ahead than `weeks`, and what was planned for it must not outlive its rule.
    """
    until = now + dt.timedelta(weeks=weeks)
    coming = {each.occurrence_date: each for each in _coming(net, now)}
    span = clock.Span(now, max([until, *(_past(date) for date in coming)]))
    wanted = {each.date: each for each in given(rules, span)} if net.is_active else {}
    # A session moved by hand into the past is still that date's session: it must not be made twice.
    begun = set(
        net.sessions.filter(starts_at__lt=now, occurrence_date__in=wanted).dates("occurrence_date", "day")
    )
    missing = [wanted[date] for date in wanted if date not in coming and date not in begun]
    found = Difference(made=[each for each in missing if each.starts_at < until], until=until)
    for date, session in coming.items():
        session.net = net
        if date in wanted:
            _compare(session, wanted[date], found)
        elif session.is_extra:
            continue
        elif not is_promised(session):
            found.removed.append(session)
        elif session.state != Session.State.CANCELLED:
            found.called_off.append(session)
    return found


def _past(date: dt.date) -> dt.datetime:
    """An instant after that local date, in whatever zone."""
    return dt.datetime.combine(date, dt.time(), dt.UTC) + dt.timedelta(days=2)


def _coming(net: Net, now: dt.datetime) -> QuerySet[Session]:
    rows = net.sessions.filter(starts_at__gte=now).select_related("relay", "earlier_rule__relay", "log")
    return rows.prefetch_related("duties__member", "duties__station")


def is_promised(session: Session) -> bool:
    """Whether people know of it: somebody holds a duty in it, it carries a note, or its log was begun."""
    return bool(session.duties.all() or session.note or hasattr(session, "log"))


def _compare(session: Session, wanted: Given, found: Difference) -> None:
    start, end = _times(session, wanted)
    same = (session.starts_at, session.ends_at) == (start, end)
    (found.kept if same else found.retimed).append((session, wanted))
    if session.state == Session.State.CANCELLED and session.note == RULE_CHANGED:
        found.put_back.append(session)


def _times(session: Session, wanted: Given) -> tuple[dt.datetime, dt.datetime]:
    start = session.moved_to or wanted.starts_at
    return start, start + wanted.terms.duration


@transaction.atomic
def plan_sessions(net: Net, *, now: dt.datetime, weeks: int = PLANNED_WEEKS) -> Planned:
    """Bring the coming `weeks` of sessions in step with the rules of `net`. Repeating it changes nothing.

    Sessions that began before `now` are history and stay as they are. A coming session that the rules no
    longer give is removed, unless people know of it: then it is called off, so that they are told, and put
    back should the rules give it again. Sessions added or moved by hand keep their time.
    """
    # One planner a net at a time: two of them would both see the same session missing.
    net = Net.objects.select_for_update().get(pk=net.pk)
    found = difference(net, rules_of(net), now=now, weeks=weeks)
    for each in found.made:
        earlier = each.terms if isinstance(each.terms, EarlierRule) else None
        Session.objects.create(
            net=net,
            occurrence_date=each.date,
            starts_at=each.starts_at,
            ends_at=each.ends_at,
            earlier_rule=earlier,
        )
    for session, wanted in found.retimed:
        # Its own counter stays: the net's rises with its rule, and calendars add the two.
        was = session.starts_at
        session.starts_at, session.ends_at = _times(session, wanted)
        session.save()
        _ask_again(session, was)
    for session in found.called_off:
        call_off(session, note=session.note or RULE_CHANGED)
    for session in found.removed:
        session.delete()
    for session in found.put_back:
        restore(session)
    return Planned(
        *(len(rows) for rows in (found.made, found.retimed, found.called_off, found.removed, found.put_back))
    )


def plan_all(*, now: dt.datetime, weeks: int = PLANNED_WEEKS) -> Planned:
    """`plan_sessions` for every net; the sums."""
    done = [plan_sessions(net, now=now, weeks=weeks) for net in Net.objects.all()]
    return Planned(*(sum(column) for column in zip(*(astuple(each) for each in done), strict=True)))


# One session by hand -------------------------------------------------------------------------------


def amend(session: Session) -> None:
    """Save a session that somebody edited by hand (another time, relay, state or note), as a new revision."""
    net = session.net
    terms = terms_on(net, session.occurrence_date)
    start = session.moved_to or rule_start(net, session.occurrence_date)
    session.earlier_rule = terms if isinstance(terms, EarlierRule) else None
    session.is_extra = session.is_extra or not rule_gives(net, session.occurrence_date)
    session.starts_at, session.ends_at = start, start + terms.duration
    was = Session.objects.filter(pk=session.pk).values_list("starts_at", flat=True).first()
    if session.pk:
        session.sequence += 1
    session.save()
    _ask_again(session, was or start)


def is_asked_again(duty: Duty, was: dt.datetime, starts_at: dt.datetime) -> bool:
    """Whether somebody who said yes to one time has yet to say it to another."""
    return duty.state == Duty.State.CONFIRMED and abs(starts_at - was) > KEEPS_A_YES


def _ask_again(session: Session, was: dt.datetime) -> None:
    """Who said yes to the old time has not said yes to this one."""
    for duty in session.duties.filter(state=Duty.State.CONFIRMED):
        if is_asked_again(duty, was, session.starts_at):
            duty.state, duty.answered_at = Duty.State.ASSIGNED, None
            duty.sequence += 1
            duty.save(update_fields=["state", "answered_at", "sequence", "changed_at"])


def call_off(session: Session, *, note: str) -> bool:
    """Cancel a session, keeping its row so that calendars can show it as cancelled. False if it was already."""
    if session.state == Session.State.CANCELLED:
        return False
    session.state = Session.State.CANCELLED
    session.note = note
    session.sequence += 1
    session.save()
    return True


def restore(session: Session) -> bool:
    """Undo `call_off`. False if it was not cancelled."""
    if session.state != Session.State.CANCELLED:
        return False
    session.state = Session.State.SCHEDULED
    session.note = ""
    session.sequence += 1
    session.save()
    return True
