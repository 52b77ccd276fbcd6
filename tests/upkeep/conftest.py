"""A battery on the ridge, read every three months by a member; last done in December."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from clubops.members.models import Member
from relays.models import Reading, ReadingKind, Relay, Site, UpkeepRecord, UpkeepTask
from tests.conftest import NOW, Cast

TODAY = dt.date(2026, 3, 3)
DAY = dt.timedelta(days=1)


def make_task(site: Site | None = None, relay: Relay | None = None, **fields: Any) -> UpkeepTask:
    values = {
        "name": "Battery", "rhythm": "months", "every": 3, "first_due_on": dt.date(2025, 12, 1), "lead_days": 14,
    } | fields  # fmt: skip
    task = UpkeepTask(site=site, relay=relay, **values)
    task.full_clean()
    task.save()
    return task


def done(task: UpkeepTask, on: dt.date, by: Member | None = None) -> UpkeepRecord:
    return UpkeepRecord.objects.create(task=task, done_on=on, by=by, recorded_at=NOW)


def read(kind: ReadingKind, value: float, at: dt.datetime = NOW, by: Member | None = None) -> Reading:
    return Reading.objects.create(kind=kind, value=value, at=at, by=by)


@pytest.fixture
def battery(site: Site, cast: Cast) -> UpkeepTask:
    """Due on 10 March: a week after NOW. The site's steward is the cast's."""
    site.steward = cast.steward
    site.save()
    task = make_task(site, responsible=cast.member, stand_in=cast.net_control, hazards=["battery", "remote"])
    done(task, dt.date(2025, 12, 10), cast.member)
    return task


@pytest.fixture
def voltage(battery: UpkeepTask) -> ReadingKind:
    return ReadingKind.objects.create(task=battery, name="Resting voltage", unit="V", low=12.2, high=13.2)
