"""A net on Tuesdays and the feed that shows it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from nets.calendars.entries import NetSeries, SingleEvent
from nets.calendars.feed import Feed

NOTED = datetime(2026, 1, 10, 12, 0, 5, tzinfo=UTC)
HORIZON = datetime(2028, 1, 1, tzinfo=UTC)


@pytest.fixture
def net() -> NetSeries:
    return NetSeries(
        seed="6f2d3a0e-net",
        title="Tuesday net",
        zone="America/New_York",
        first_wall=datetime(2026, 1, 6, 19, 30),
        duration=timedelta(hours=1),
        rule="FREQ=WEEKLY;BYDAY=TU",
        sequence=2,
        created=NOTED,
        last_modified=NOTED,
        description="Check in with your call sign.",
        location="Ridge relay, 146.940 MHz",
        url="https://club.example/nets/tuesday/",
    )


@pytest.fixture
def duty() -> SingleEvent:
    return SingleEvent(
        kind="duty",
        seed="0b77-duty",
        title="Net control, Tuesday net",
        starts_at=datetime(2026, 3, 4, 0, 30, tzinfo=UTC),
        duration=timedelta(hours=1),
        sequence=3,
        created=NOTED,
        last_modified=NOTED,
        busy=True,
    )


@pytest.fixture
def feed(net: NetSeries) -> Feed:
    return Feed(
        name="Club nets",
        source_url="https://club.example/calendars/nets.ics",
        zone="America/New_York",
        horizon=HORIZON,
        last_modified=NOTED,
        series=[net],
    )
