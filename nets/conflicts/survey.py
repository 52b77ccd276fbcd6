"""Every conflict of the coming weeks, or of one session."""

from __future__ import annotations

import datetime as dt

from django.db.models import Prefetch, QuerySet

from nets import agenda
from nets.conflicts import airtime, channels, outages, people, privileges
from nets.conflicts.conflict import Conflict
from nets.models import Duty, Net, Session
from nets.schedule import PLANNED_WEEKS


def coming(*, now: dt.datetime, weeks: int = PLANNED_WEEKS, net: Net | None = None) -> list[Conflict]:
    """Conflicts of the sessions planned for the coming `weeks`, earliest first; those of `net` alone if given.

    Where the rota reaches further, so does this. The rows say when each net meets, so no rule is expanded; every
    path is judged once.
    """
    until = agenda.rota_until(now=now, least=dt.timedelta(weeks=weeks))
    rows = list(_sessions(now).filter(starts_at__lt=until))
    found = _of(rows, [each for each in rows if net is None or each.net_id == net.pk], now)
    return [each for each in found if net is None or each.concerns(net)]


def of_session(session: Session, *, now: dt.datetime) -> list[Conflict]:
    """Conflicts in which this one session is a side."""
    near = list(_sessions(now).filter(starts_at__lt=session.ends_at, ends_at__gt=session.starts_at))
    found = _of(near, [each for each in near if each.pk == session.pk], now)
    return [each for each in found if any(side.pk == session.pk for side in each.sessions)]


def _of(sessions: list[Session], own: list[Session], now: dt.datetime) -> list[Conflict]:
    """Between any two of `sessions`, and within each of `own`."""
    own_seats = people.seats(own)
    found = [
        *airtime.clashes(sessions),
        *people.two_chairs(people.seats(sessions)),
        *people.away(own_seats),
        *people.licences(own_seats),
        *privileges.beyond_the_licence(own_seats),
        *privileges.guests_beyond_the_licence(own),
        *people.weak_paths(own_seats, now=now),
        *channels.off_the_air(own),
        *channels.outside_the_band(own),
        *outages.silenced(own),
    ]
    return sorted(found, key=lambda each: each.at)


def _sessions(now: dt.datetime) -> QuerySet[Session]:
    held = Duty.objects.exclude(state=Duty.State.DECLINED).select_related("member__licence_class", "station")
    held = held.prefetch_related("member__licence_class__privileges")
    rows = Session.objects.filter(ends_at__gt=now, state=Session.State.SCHEDULED, net__is_active=True)
    relays = ("net__relay__site", "relay__site", "earlier_rule__relay__site")
    chairs = Prefetch("duties", queryset=held)
    return rows.select_related(*relays).prefetch_related(chairs, "net__guest_class__privileges")
