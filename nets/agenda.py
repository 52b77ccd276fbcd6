"""What is on the air, and who is in the chair: the questions that pages and feeds ask."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Max, Prefetch, QuerySet

from clubops.members.models import Member
from nets import silences
from nets.models import Duty, Net, Session
from relays.models import Outage


@dataclass(frozen=True)
class Chairs:
    """A session and the people in its two chairs; None is an empty chair. `silent` are outages of its relay then."""

    session: Session
    net_control: Duty | None
    backup: Duty | None
    silent: tuple[Outage, ...] = ()

    @property
    def duties(self) -> list[tuple[str, str, Duty | None]]:
        """(role, its words, its holder) for both chairs."""
        return [
            (Duty.Role.NET_CONTROL.value, Duty.Role.NET_CONTROL.label, self.net_control),
            (Duty.Role.BACKUP.value, Duty.Role.BACKUP.label, self.backup),
        ]

    @property
    def line(self) -> str:
        """Call signs only: this stands on public pages."""
        if self.session.state == Session.State.CANCELLED:
            return ""
        guests = self.session.net.guest_of
        if guests and not (self.net_control or self.backup):
            return f"Net control: from {guests}."
        control = self.net_control.member.call_sign if self.net_control else "wanted"
        backup = self.backup.member.call_sign if self.backup else "wanted"
        return f"Net control: {control}. Backup: {backup}."

    @property
    def is_called_off(self) -> bool:
        return self.session.state == Session.State.CANCELLED

    @property
    def where(self) -> str:
        """The relay or the simplex frequency, an outage of that time, and the note if there is one."""
        relay = self.session.relay_in_use
        place = (
            f"{relay.name}, {relay.output_mhz:.3f} MHz"
            if relay
            else f"Simplex, {self.session.terms.simplex_mhz:.3f} MHz"
        )
        told = [f"It is {each.get_effect_display()} then: {each.reason.rstrip('.')}." for each in self.silent]
        return " ".join([f"{place}.", *told, self.session.note]).rstrip()

    @property
    def is_short(self) -> bool:
        """A chair is empty on a session that will take place; guests fill their own."""
        if self.session.net.guest_of:
            return False
        return self.session.state == Session.State.SCHEDULED and not (self.net_control and self.backup)


def _with_people(sessions: QuerySet[Session]) -> QuerySet[Session]:
    held = Duty.objects.exclude(state=Duty.State.DECLINED).select_related("member", "station")
    relays = ("net__relay__site", "relay__site", "earlier_rule__relay__site")
    return sessions.select_related(*relays).prefetch_related(Prefetch("duties", queryset=held))


def chairs(sessions: QuerySet[Session]) -> list[Chairs]:
    """The given sessions with their people, in the order of the query; declined duties count as empty."""
    rows = list(_with_people(sessions))
    silent = silences.by_session(rows)
    found = []
    for session in rows:
        by_role = {duty.role: duty for duty in session.duties.all()}
        held = by_role.get(Duty.Role.NET_CONTROL), by_role.get(Duty.Role.BACKUP)
        found.append(Chairs(session, *held, tuple(silent.get(session.pk, ()))))
    return found


def between(start: dt.datetime, end: dt.datetime, net: Net | None = None) -> list[Chairs]:
    """Sessions not yet over at `start` and begun before `end`, earliest first."""
    rows = Session.objects.filter(ends_at__gt=start, starts_at__lt=end, net__is_active=True)
    return chairs(rows.filter(net=net) if net else rows)


def rota_until(*, now: dt.datetime, least: dt.timedelta) -> dt.datetime:
    """The end of what people have been given a chair in, but never before `least` from now."""
    held = Duty.objects.filter(session__starts_at__gt=now, session__state=Session.State.SCHEDULED)
    last = held.exclude(state=Duty.State.DECLINED).aggregate(at=Max("session__ends_at"))["at"]
    return max(now + least, last or now)


def coming_duties(member: Member, *, now: dt.datetime) -> QuerySet[Duty]:
    """The member's duties in sessions that are not over, earliest first, declined ones left out."""
    return (
        Duty.objects.filter(member=member, session__ends_at__gt=now)
        .exclude(state=Duty.State.DECLINED)
        .exclude(session__state=Session.State.CANCELLED)
        .select_related("session__net__relay__site", "session__relay__site", "station")
        .order_by("session__starts_at")
    )


def declined_duties(member: Member, *, now: dt.datetime) -> QuerySet[Duty]:
    """Coming turns the member has said no to and nobody else has been given since, earliest first."""
    return (
        Duty.objects.filter(member=member, state=Duty.State.DECLINED, session__starts_at__gt=now)
        .filter(session__state=Session.State.SCHEDULED, session__net__is_active=True)
        .select_related("session__net")
        .order_by("session__starts_at")
    )
