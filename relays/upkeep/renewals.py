"""Papers that run out: those entered as renewals, and the dates that sites and relays carry themselves."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext

from clubops.members.models import Member
from relays.models import Relay, Renewal, Site
from relays.upkeep import people
from relays.upkeep.rhythm import parse_leads

# For the dates on sites and relays. Common practice, no source; a US amateur licence may be renewed from 90 days
# ahead (question pool T1C07 as the project's notes have it).
USUAL_LEADS = (120, 90, 30)
FURTHEST = dt.timedelta(days=366 * 100)


class RenewalRefused(ValueError):
    """A date that renews nothing; the sentence says why."""


@dataclass(frozen=True, slots=True)
class Paper:
    """Something that holds until `expires_on`, that day included. `key` names it for ever."""

    key: str
    words: str
    about: str
    expires_on: dt.date
    leads: tuple[int, ...]
    site: Site | None
    responsible: Member | None = None
    notes: str = ""

    def days_left(self, today: dt.date) -> int:
        """Days until its last day; negative once it has ended."""
        return (self.expires_on - today).days

    def state(self, today: dt.date) -> str:
        """ended, coming (within its first reminder) or later."""
        if self.days_left(today) < 0:
            return "ended"
        return "coming" if self.days_left(today) <= self.leads[0] else "later"

    @property
    def asked(self) -> Member | None:
        """Who sees to it."""
        if self.responsible is not None and self.responsible.is_active:
            return self.responsible
        return people.steward_of(self.site)


def papers() -> list[Paper]:
    """Every paper with a date, the first to end first."""
    return sorted([*_entered(), *_of_sites(), *_of_relays()], key=lambda each: (each.expires_on, each.key))


def named(key: str) -> Paper | None:
    """The paper of that key, if it still has a date."""
    return next((each for each in papers() if each.key == key), None)


def renew(paper: Paper, *, until: dt.date, today: dt.date) -> None:
    """Give a paper its new last day. Raises `RenewalRefused` for one that is no later, past, or far off."""
    if until == paper.expires_on:
        return  # the same button pressed twice
    if until < paper.expires_on:
        raise RenewalRefused(
            f"It holds until {paper.expires_on} already; {until} is earlier. Give the new last day."
        )
    if until < today:
        raise RenewalRefused(f"{until} is past; give a day after today, {today}.")
    if until - today > FURTHEST:
        raise RenewalRefused(f"{until} is more than a hundred years away; look at the year.")
    kind, _, pk = paper.key.partition(":")
    model, column = _COLUMNS[kind]
    model.objects.filter(pk=int(pk)).update(**{column: until})


_COLUMNS: dict[str, tuple[type[Renewal] | type[Site] | type[Relay], str]] = {
    "renewal": (Renewal, "expires_on"),
    "lease": (Site, "lease_expires_on"),
    "coordination": (Relay, "coordination_expires_on"),
    "licence": (Relay, "licence_expires_on"),
}


def _entered() -> Iterator[Paper]:
    rows = Renewal.objects.filter(is_active=True)
    for row in rows.select_related("site__steward", "relay__site__steward", "responsible"):
        place = row.relay or row.site
        site = row.relay.site if row.relay else row.site
        yield Paper(
            f"renewal:{row.pk}",
            row.name,
            place.name if place else gettext("the club"),
            row.expires_on,
            parse_leads(row.lead_days),
            site,
            row.responsible,
            row.notes,
        )


def _of_sites() -> Iterator[Paper]:
    for site in Site.objects.exclude(lease_expires_on=None).select_related("steward"):
        if site.lease_expires_on:
            yield Paper(
                f"lease:{site.pk}", gettext("Site lease"), site.name, site.lease_expires_on, USUAL_LEADS, site
            )


def _of_relays() -> Iterator[Paper]:
    for relay in Relay.objects.select_related("site__steward"):
        dates = (
            ("coordination", gettext("Frequency coordination"), relay.coordination_expires_on),
            ("licence", gettext("Licence"), relay.licence_expires_on),
        )
        for key, words, expires_on in dates:
            if expires_on:
                yield Paper(f"{key}:{relay.pk}", words, relay.name, expires_on, USUAL_LEADS, relay.site)
