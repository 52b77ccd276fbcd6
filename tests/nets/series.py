"""A short way to ask for a series of meetings in the tests."""

from datetime import UTC, datetime

from nets import recurrence
from nets.recurrence import Occurrence, Rule

NEW_YORK = "America/New_York"


def meet(
    rule: str, first: str, zone: str = NEW_YORK, since: str = "", until: str = "2199-12-31", **more
) -> list[Occurrence]:
    return recurrence.occurrences(
        Rule.parse(rule),
        first_wall=datetime.fromisoformat(first),
        zone=zone,
        from_utc=datetime.fromisoformat(since or "1980-01-01").replace(tzinfo=UTC),
        until_utc=datetime.fromisoformat(until).replace(tzinfo=UTC),
        **more,
    )
