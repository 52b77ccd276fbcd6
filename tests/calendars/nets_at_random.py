"""Nets drawn at random, aimed at the places where calendars go wrong, and our own list of what they mean."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from clubops import clock
from nets import recurrence
from nets.calendars.entries import ChangedSession, NetSeries
from nets.calendars.feed import Feed
from nets.calendars.zones import changes

# Both hemispheres, half-hour and 45-minute offsets, half-hour and two-hour changes, summer time that is the
# standard (Dublin), a change kept to Ramadan (Casablanca), zones that gave it up, a zone that skipped a
# day, and none at all.
ZONES = (
    "Africa/Cairo",
    "Africa/Casablanca",
    "America/Havana",
    "America/Mexico_City",
    "America/New_York",
    "America/Phoenix",
    "America/Santiago",
    "America/Sao_Paulo",
    "America/St_Johns",
    "Antarctica/Troll",
    "Asia/Kathmandu",
    "Asia/Tehran",
    "Atlantic/Azores",
    "Australia/Adelaide",
    "Australia/Lord_Howe",
    "Europe/Berlin",
    "Europe/Dublin",
    "Pacific/Apia",
    "Pacific/Auckland",
    "Pacific/Chatham",
)
CREATED = datetime(2026, 1, 1, 12, tzinfo=UTC)
YEARS_READ = timedelta(days=3 * 365)

Seen = tuple[int, int, str, str]


def feed_of(*series: NetSeries, horizon: datetime) -> Feed:
    return Feed(
        name="Nets",
        source_url="https://club.example/nets.ics",
        zone="UTC",
        horizon=horizon,
        last_modified=CREATED,
        series=series,
    )


def random_net(number: int, draw: random.Random) -> NetSeries:
    zone = ZONES[number % len(ZONES)]
    first_wall = _aimed(zone, draw) if draw.random() < 0.6 else _anywhere(draw)
    net = NetSeries(
        seed=f"net-{number}",
        title=f"Net {number}",
        zone=zone,
        first_wall=first_wall,
        duration=timedelta(minutes=draw.choice((15, 30, 60, 90, 120, 480))),
        rule=_rule(draw, first_wall),
        sequence=draw.randrange(4),
        created=CREATED,
        last_modified=CREATED,
        last_date=first_wall.date() + timedelta(days=draw.randrange(900)) if draw.random() < 0.2 else None,
    )
    return _with_exceptions(net, draw)


def _anywhere(draw: random.Random) -> datetime:
    day = date(2005, 1, 1) + timedelta(days=draw.randrange(365 * 22))
    return datetime.combine(
        day, time(draw.choice((0, 1, 2, 3, 17, 19, 20, 23)), draw.choice((0, 15, 30, 45)))
    )


def _aimed(zone: str, draw: random.Random) -> datetime:
    """Some weeks before a change of the clocks, at an hour that it skips, repeats or cuts in two."""
    since = [change for change in changes(zone, 2029) if 2005 <= change.at.year <= 2027]
    if not since:
        return _anywhere(draw)
    change = draw.choice(since)
    earlier = timedelta(days=7 * draw.randrange(30), minutes=15 * draw.randrange(-4, 6))
    return change.onset - earlier


def _rule(draw: random.Random, first_wall: datetime) -> str:
    days = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
    chosen = ",".join(draw.sample(days, draw.randrange(1, 4)))
    # Changes come on Sundays nearly everywhere, so these come up more often.
    weekday = draw.choice((*days, "SU", "SU"))
    own_day = days[first_wall.weekday()]
    pattern = draw.choice(
        (
            "FREQ=WEEKLY",
            f"FREQ=WEEKLY;BYDAY={own_day},{weekday}",
            f"FREQ=WEEKLY;BYDAY={chosen}",
            f"FREQ=WEEKLY;INTERVAL=2;BYDAY={chosen};WKST={draw.choice(days)}",
            f"FREQ=WEEKLY;INTERVAL={draw.randrange(1, 5)}",
            f"FREQ=MONTHLY;BYDAY={draw.choice((1, 2, 3, -1))}{weekday}",
            f"FREQ=MONTHLY;BYDAY=1{weekday},3{weekday}",
            "FREQ=MONTHLY;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-1",
            f"FREQ=MONTHLY;BYMONTHDAY={draw.choice((1, 15, 29, 31, -1))}",
            "FREQ=DAILY",
            "FREQ=DAILY",
            f"FREQ=DAILY;INTERVAL={draw.randrange(2, 9)}",
        )
    )
    end = draw.random()
    if end < 0.3:
        return f"{pattern};COUNT={draw.randrange(1, 150)}"
    if end < 0.5:
        until = first_wall.replace(hour=12, minute=0, tzinfo=UTC) + timedelta(days=draw.randrange(30, 900))
        return f"{pattern};UNTIL={until:%Y%m%dT%H%M%SZ}"
    if end < 0.6 and "MONTHLY" in pattern:
        return f"{pattern};BYMONTH=1,2,3,4,9,10,11,12"
    return pattern


def _with_exceptions(net: NetSeries, draw: random.Random) -> NetSeries:
    met = meetings(net, net_horizon(net))
    if not met:
        return net
    picked = draw.sample(met, min(len(met), draw.randrange(8)))
    # The awkward ones are few among many, and the ones worth changing.
    picked += [each for each in met if each.shift != "none" and draw.random() < 0.4]
    days = {each.wall.date(): each for each in picked}
    dropped = tuple(day for day in days if draw.random() < 0.25)
    changed = [changed_session(net, days[day], draw) for day in days if day not in dropped]
    spare = met[0].wall.date() + timedelta(days=draw.randrange(1, 200))
    if spare not in {each.wall.date() for each in met}:
        changed.append(added_session(net, spare, draw))
    return replace(net, excluded_dates=dropped, changed=tuple(changed))


def changed_session(net: NetSeries, meeting: recurrence.Occurrence, draw: random.Random) -> ChangedSession:
    kind = draw.choice(("moved", "moved", "cancelled", "renamed"))
    moved_by = timedelta(minutes=15 * draw.randrange(-700, 700)) if kind == "moved" else timedelta(0)
    return ChangedSession(
        occurrence_date=meeting.wall.date(),
        starts_at=meeting.starts_at + moved_by,
        duration=timedelta(minutes=draw.choice((20, 60, 100))) if kind == "moved" else net.duration,
        status="cancelled" if kind == "cancelled" else "confirmed",
        title=f"{net.title} special" if kind == "renamed" else None,
        sequence=draw.randrange(1, 5),
        last_modified=CREATED + timedelta(days=1),
    )


def added_session(net: NetSeries, day: date, draw: random.Random) -> ChangedSession:
    wall = datetime.combine(day, time(draw.randrange(24)))
    return ChangedSession(
        occurrence_date=day,
        starts_at=clock.to_utc(wall, net.zone).at,
        duration=timedelta(minutes=45),
        title=f"{net.title} extra",
        sequence=draw.randrange(3),
        last_modified=CREATED,
    )


def net_horizon(net: NetSeries) -> datetime:
    return clock.to_utc(net.first_wall, net.zone).at + YEARS_READ


def meetings(net: NetSeries, until: datetime) -> list[recurrence.Occurrence]:
    """What the rule gives before `until`, dropped dates included, straight from `nets.recurrence`."""
    return recurrence.occurrences(
        recurrence.Rule.parse(net.rule),
        first_wall=net.first_wall,
        zone=net.zone,
        from_utc=clock.to_utc(net.first_wall, net.zone).at - timedelta(days=2),
        until_utc=until,
        ends_on=net.last_date,
    )


def our_own(net: NetSeries, until: datetime) -> Counter[Seen]:
    """Start, end (seconds since 1970), status and title of every session that starts before `until`."""
    return Counter(seen for seen in _our_own(net, until) if seen[0] < until.timestamp())


def _our_own(net: NetSeries, until: datetime) -> Iterator[Seen]:
    changes = {change.occurrence_date: change for change in net.changed}
    # A session moved to before `until` may come from after it.
    for meeting in meetings(net, until + timedelta(days=366)):
        if meeting.wall.date() in changes or meeting.wall.date() in net.excluded_dates:
            continue
        start = int(meeting.starts_at.timestamp())
        yield start, start + int(net.duration.total_seconds()), "CONFIRMED", net.title
    for change in net.changed:
        start = int(change.starts_at.timestamp())
        end = start + int(change.duration.total_seconds())
        yield start, end, change.status.upper(), change.title or net.title
