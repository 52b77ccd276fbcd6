"""300 random nets in 20 zones: our own expansion, recurring-ical-events and ical.js agree on every session.

Start, end, status and title are compared, with clock changes of both hemispheres, half-hour zones and sessions that
were moved, cancelled, renamed, dropped and added; then again after clients hold an older version.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

import icalendar
import pytest

from nets.calendars.entries import NetSeries
from nets.calendars.feed import build
from nets.calendars.series import is_awkward
from tests.calendars.nets_at_random import (
    CREATED,
    ZONES,
    Seen,
    changed_session,
    feed_of,
    meetings,
    net_horizon,
    our_own,
    random_net,
)
from tests.calendars.readers import (
    ask_ical_js,
    question,
    seen_by_ical_js,
    seen_by_python,
    seen_by_zone_in_file,
)

NETS = 300
SEED = 5545

Disagreements = list[tuple[str, Counter[Seen], Counter[Seen]]]


@pytest.fixture(scope="module")
def nets() -> list[NetSeries]:
    draw = random.Random(SEED)
    return [random_net(number, draw) for number in range(NETS)]


@pytest.fixture(scope="module")
def edited(nets: list[NetSeries]) -> list[NetSeries]:
    draw = random.Random(SEED + 1)
    return [edit(net, draw) for net in nets]


def edit(net: NetSeries, draw: random.Random) -> NetSeries:
    """The net some weeks later: some sessions changed again, some for the first time, and perhaps its title."""
    changed = {change.occurrence_date: change for change in net.changed}
    again = [change for change in net.changed if draw.random() < 0.5]
    for change in again:
        changed[change.occurrence_date] = replace(
            change,
            starts_at=change.starts_at + timedelta(minutes=15 * draw.randrange(1, 200)),
            status=draw.choice(("confirmed", "cancelled")),
            sequence=change.sequence + 1,
        )
    untouched = [
        meeting
        for meeting in meetings(net, net_horizon(net))
        if meeting.wall.date() not in changed and meeting.wall.date() not in net.excluded_dates
    ]
    for meeting in draw.sample(untouched, min(3, len(untouched))):
        changed[meeting.wall.date()] = changed_session(net, meeting, draw)
    renamed = draw.random() < 0.3
    return replace(
        net,
        changed=tuple(changed.values()),
        title=f"{net.title} renamed" if renamed else net.title,
        sequence=net.sequence + renamed,
    )


@cache
def bytes_of(net: NetSeries) -> bytes:
    return build(feed_of(net, horizon=net_horizon(net))).content


def wrong(nets: list[NetSeries], seen: list[Counter[Seen]]) -> Disagreements:
    """Title of each net that somebody sees otherwise, with what is missing and what is too much."""
    meant = [our_own(net, net_horizon(net)) for net in nets]
    return [
        (f"{net.title}, {net.zone}, {net.rule}", ours - theirs, theirs - ours)
        for net, ours, theirs in zip(nets, meant, seen, strict=True)
        if ours != theirs
    ]


def test_the_nets_are_worth_asking_about(nets: list[NetSeries]) -> None:
    met = [(net, meeting) for net in nets for meeting in meetings(net, net_horizon(net))]
    awkward = [meeting for net, meeting in met if is_awkward(meeting.wall, net.zone, net.duration)]
    assert {net.zone for net in nets} == set(ZONES)
    assert Counter(meeting.shift for meeting in awkward).keys() == {"gap", "fold", "none"}
    assert len(awkward) > 150
    assert len(met) > 30_000


def test_recurring_ical_events_sees_what_we_mean(nets: list[NetSeries], edited: list[NetSeries]) -> None:
    for version in (nets, edited):
        assert wrong(version, [seen_by_python(bytes_of(net), net_horizon(net)) for net in version]) == []


def test_a_reader_without_a_tz_database_sees_what_we_mean(nets: list[NetSeries]) -> None:
    assert wrong(nets, [seen_by_zone_in_file(bytes_of(net), net_horizon(net)) for net in nets]) == []


@pytest.mark.node
def test_ical_js_sees_what_we_mean(nets: list[NetSeries], edited: list[NetSeries]) -> None:
    for version in (nets, edited):
        answers = ask_ical_js(question(bytes_of(net), net_horizon(net)) for net in version)
        assert wrong(version, [seen_by_ical_js(answer) for answer in answers]) == []


@pytest.mark.node
def test_ical_js_keeps_many_nets_in_one_feed_apart(nets: list[NetSeries]) -> None:
    shared = nets[:40]
    until = max(map(net_horizon, shared))
    (answer,) = ask_ical_js([question(build(feed_of(*shared, horizon=until)).content, until)])
    assert seen_by_ical_js(answer) == sum((our_own(net, until) for net in shared), Counter())


Key = tuple[str, bytes]


def entries(content: bytes) -> dict[Key, icalendar.Event]:
    """VEVENTs by what RFC 5546 section 2.1.5 tells them apart by: UID and RECURRENCE-ID."""
    events = icalendar.Calendar.from_ical(content).walk("VEVENT")
    return {
        (str(event["UID"]), event["RECURRENCE-ID"].to_ical() if "RECURRENCE-ID" in event else b""): event
        for event in events
    }


def said(event: icalendar.Event) -> list[bytes]:
    names = ("DTSTART", "DTEND", "RRULE", "EXDATE", "SUMMARY", "STATUS")
    values = [event.get(name) for name in names]
    return [repr(value.to_ical() if hasattr(value, "to_ical") else value).encode() for value in values]


def test_no_entry_loses_its_identity_and_every_change_raises_the_sequence(
    nets: list[NetSeries], edited: list[NetSeries]
) -> None:
    risen = 0
    for before, after in zip(nets, edited, strict=True):
        old, new = entries(bytes_of(before)), entries(bytes_of(after))
        assert old.keys() <= new.keys()
        for key, event in old.items():
            assert new[key]["SEQUENCE"] >= event["SEQUENCE"]
            if said(event) != said(new[key]):
                assert new[key]["SEQUENCE"] > event["SEQUENCE"]
                risen += 1
    assert risen > 300


def test_a_client_that_merges_versions_by_sequence_sees_the_newer_one(
    nets: list[NetSeries], edited: list[NetSeries]
) -> None:
    seen = []
    for before, after in zip(nets, edited, strict=True):
        both = icalendar.Calendar.from_ical(bytes_of(after))
        for event in icalendar.Calendar.from_ical(bytes_of(before)).walk("VEVENT"):
            both.add_component(event)
        seen.append(seen_by_python(both.to_ical(), net_horizon(after)))
    assert wrong(edited, seen) == []


def samoan() -> NetSeries:
    """Daily across 30 December 2011, which Samoa skipped: the session of that day is the session of the next."""
    return NetSeries(
        seed="samoa",
        title="Samoan net",
        zone="Pacific/Apia",
        first_wall=datetime(2011, 12, 20, 4, 30),
        duration=timedelta(minutes=30),
        rule="FREQ=DAILY;COUNT=20",
        sequence=0,
        created=CREATED,
        last_modified=CREATED,
    )


def test_python_agrees_across_a_day_that_was_skipped() -> None:
    content, until = bytes_of(samoan()), net_horizon(samoan())
    assert seen_by_python(content, until) == our_own(samoan(), until)
    assert seen_by_zone_in_file(content, until) == our_own(samoan(), until)


@pytest.mark.node
def test_ical_js_agrees_across_a_day_that_was_skipped() -> None:
    until = net_horizon(samoan())
    (answer,) = ask_ical_js([question(bytes_of(samoan()), until)])
    assert seen_by_ical_js(answer) == our_own(samoan(), until)
