"""The demo's upkeep: a battery that is tiring, a standing wave ratio that is fine, a lease that ends.

Everything here is invented. Intervals and limits are common practice, no source.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction

from clubops.members.models import Member
from relays.models import KeyHolder, ReadingKind, Relay, Renewal, Site, UpkeepTask
from relays.upkeep import due, records
from relays.upkeep.records import Visit

RIDGE, MILL, QUARRY = "lantern-ridge", "mill-tower", "quarry-top"
# Resting volts of a tired 12 V battery, oldest first, and the standing wave ratio read on the same climbs.
VOLTS = (12.74, 12.71, 12.72, 12.66, 12.64, 12.6, 12.61, 12.54, 12.49, 12.47, 12.4, 12.36)
SWR = (1.3, 1.28, 1.31, 1.3, 1.34, 1.29, 1.33, 1.3, 1.35, 1.31, 1.34, 1.32)
BETWEEN_DAYS = 61


@transaction.atomic
def write_up(*, now: dt.datetime) -> int:
    """Enter tasks, visits, papers and keys for a club that has none; how many tasks. Repeating it changes nothing."""
    people = {member.call_sign: member for member in Member.objects.all()}
    sites = {site.slug: site for site in Site.objects.filter(slug__in=[RIDGE, MILL, QUARRY])}
    if UpkeepTask.objects.exists() or len(sites) < 3 or not {"QZ2BRM", "QZ2DOV", "QZ2EMI"} <= people.keys():
        return 0
    today = due.club_day(now)
    _battery(sites[RIDGE], people, today, now)
    _feedline(Relay.objects.get(slug="lantern-ridge-2m"), people, today, now)
    _others(sites, people, today, now)
    _papers(sites, people, today)
    return UpkeepTask.objects.count()


def _task(people: dict[str, Member], responsible: str, **fields: Any) -> UpkeepTask:
    task = UpkeepTask(responsible=people.get(responsible), **fields)
    task.full_clean()
    task.save()
    return task


def _meter(task: UpkeepTask, **fields: Any) -> ReadingKind:
    kind = ReadingKind(task=task, **fields)
    kind.full_clean()
    kind.save()
    return kind


def _began(last_on: dt.date) -> dt.date:
    return last_on - dt.timedelta(days=(len(VOLTS) - 1) * BETWEEN_DAYS)


def _visits(kind: ReadingKind, values: tuple[float, ...], last_on: dt.date, now: dt.datetime) -> None:
    for number, value in enumerate(values, start=1):
        done_on = last_on - dt.timedelta(days=(len(values) - number) * BETWEEN_DAYS)
        visit = Visit(done_on, kind.task.responsible, values={kind.pk: value})
        records.record(kind.task, visit, now=now)


def _battery(site: Site, people: dict[str, Member], today: dt.date, now: dt.datetime) -> None:
    task = _task(
        people,
        "QZ2DOV",
        site=site,
        name="Battery voltage",
        instructions="Switch the charger off, wait an hour, read at the terminals.",
        rhythm="months",
        every=2,
        first_due_on=_began(today - dt.timedelta(days=52)),
        stand_in=people["QZ2EMI"],
        hazards=["battery", "remote"],
    )
    kind = _meter(task, name="Resting voltage", unit="V", low=12.2, high=13.2)
    _visits(kind, VOLTS, today - dt.timedelta(days=52), now)


def _feedline(relay: Relay, people: dict[str, Member], today: dt.date, now: dt.datetime) -> None:
    task = _task(
        people,
        "QZ2BRM",
        relay=relay,
        name="Forward and reflected power",
        instructions="At the transmitter, key down for five seconds. Write the meter’s number into the notes.",
        rhythm="months",
        every=2,
        first_due_on=_began(today - dt.timedelta(days=70)),
        hazards=["rf", "mains", "remote"],
    )
    kind = _meter(task, name="Standing wave ratio", unit="", high=2.0)
    _visits(kind, SWR, today - dt.timedelta(days=70), now)


def _others(sites: dict[str, Site], people: dict[str, Member], today: dt.date, now: dt.datetime) -> None:
    """A weekly one, two on fixed dates, and one that waits for nobody."""
    listen = _task(
        people, "QZ2EMI", site=sites[MILL], name="Listen for the identification and the tail",
        rhythm="days", every=7, first_due_on=today, lead_days=1,
    )  # fmt: skip
    records.record(
        listen, Visit(today - dt.timedelta(days=5), people["QZ2EMI"], "All as it should be."), now=now
    )
    _task(
        people, "QZ2BRM", site=sites[RIDGE], name="Walk round the mast: guys, turnbuckles, paint, earths",
        instructions="From the ground. Nobody climbs on this walk.",
        rhythm="dates", fixed_dates="15 April, 15 October", first_due_on=today, lead_days=21,
        hazards=["tower", "rf", "lightning", "remote"],
    )  # fmt: skip
    generator = _task(
        people, "QZ2NEL", site=sites[RIDGE], name="Run the generator under load", rhythm="months", every=1,
        first_due_on=today, lead_days=7, hazards=["generator", "mains", "remote"],
    )  # fmt: skip
    hours = _meter(generator, name="Hours", unit="h")
    visit = Visit(today - dt.timedelta(days=24), people.get("QZ2NEL"), values={hours.pk: 41.5})
    records.record(generator, visit, now=now)
    _task(
        people, "", site=sites[QUARRY], name="Fan of the transmitter", rhythm="months", every=12,
        first_due_on=today + dt.timedelta(days=45), hazards=["mains", "remote"],
    )  # fmt: skip


def _papers(sites: dict[str, Site], people: dict[str, Member], today: dt.date) -> None:
    ridge = sites[RIDGE]
    if ridge.lease_expires_on is None:
        ridge.lease_expires_on = today + dt.timedelta(days=75)
        ridge.save(update_fields=["lease_expires_on"])
    Renewal.objects.create(
        kind=Renewal.Kind.INSURANCE,
        name="Liability insurance",
        expires_on=today + dt.timedelta(days=210),
        responsible=people.get("QZ2ADA"),
        notes="The policy is in the blue folder.",
    )
    for site, sign, key in ((RIDGE, "QZ2BRM", "Gates, copy A"), (RIDGE, "QZ2DOV", "Gates, copy B"),
                            (QUARRY, "QZ2DOV", "Hut")):  # fmt: skip
        KeyHolder.objects.create(
            site=sites[site], member=people[sign], key=key, given_on=today - dt.timedelta(days=400)
        )
