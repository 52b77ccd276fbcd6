"""The form a rule is written in gives the same dates as the rule, to python-dateutil and to npm ical.js."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta

import pytest
from dateutil.rrule import rrulestr

from nets.calendars.portable import portable
from nets.recurrence import Rule, RuleError, occurrences
from tests.calendars.readers import ask_ical_js

DAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
SPAN = timedelta(days=1500)


def text_of(rule: str, first: date = date(2026, 1, 1)) -> str | None:
    return portable(Rule.parse(rule), first)


@pytest.mark.parametrize(
    ("rule", "written"),
    [
        ("FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,TH;WKST=SU", "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,TH;WKST=SU"),
        ("FREQ=MONTHLY;BYDAY=1TH,3TH", "FREQ=MONTHLY;BYDAY=1TH,3TH"),
        ("FREQ=MONTHLY;BYDAY=TU;BYSETPOS=1", "FREQ=MONTHLY;BYDAY=1TU"),
        ("FREQ=MONTHLY;BYDAY=1TU;BYMONTH=9,10,4", "FREQ=YEARLY;BYMONTH=4,9,10;BYDAY=1TU"),
        ("FREQ=MONTHLY;INTERVAL=2;BYDAY=1TU;BYMONTH=1,2,3", "FREQ=YEARLY;BYMONTH=1,3;BYDAY=1TU"),
        ("FREQ=DAILY;BYMONTHDAY=15", "FREQ=MONTHLY;BYMONTHDAY=15"),
        ("FREQ=WEEKLY;BYDAY=MO,WE,FR;BYSETPOS=-1", "FREQ=WEEKLY;BYDAY=FR"),
    ],
)
def test_it_writes_the_form_that_readers_agree_on(rule: str, written: str) -> None:
    assert text_of(rule) == written


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13",
        "FREQ=MONTHLY;INTERVAL=5;BYDAY=1TU;BYMONTH=1,2,3",
        "FREQ=MONTHLY;BYMONTH=2;BYMONTHDAY=29",
        "FREQ=MONTHLY;BYDAY=5TU,-1SU",
        "FREQ=WEEKLY;BYMONTH=1;BYDAY=MO,TU;BYSETPOS=1",
        "FREQ=DAILY;INTERVAL=3;BYMONTHDAY=15",
    ],
)
def test_it_says_so_when_there_is_no_such_form(rule: str) -> None:
    assert text_of(rule) is None


def any_rule(draw: random.Random) -> str:
    frequency = draw.choice(("DAILY", "WEEKLY", "MONTHLY", "MONTHLY"))
    parts = [f"FREQ={frequency}"]
    if draw.random() < 0.4:
        parts.append(f"INTERVAL={draw.choice((2, 3, 4, 5, 6, 12))}")
    if draw.random() < 0.4:
        parts.append(f"BYMONTH={joined(draw, range(1, 13), 8)}")
    if frequency != "WEEKLY" and draw.random() < 0.4:
        parts.append(f"BYMONTHDAY={joined(draw, (1, 2, 13, 15, 28, 29, 30, 31, -1, -2), 3)}")
    if draw.random() < 0.6:
        ordinals = (1, 2, 3, 4, 5, -1, -2) if frequency == "MONTHLY" and draw.random() < 0.7 else ("",)
        parts.append("BYDAY=" + ",".join(f"{draw.choice(ordinals)}{day}" for day in draw.sample(DAYS, 2)))
    if draw.random() < 0.2:
        parts.append(f"BYSETPOS={joined(draw, (1, 2, -1, -2), 2)}")
    if draw.random() < 0.3:
        parts.append(f"WKST={draw.choice(DAYS)}")
    return ";".join(parts)


def joined(draw: random.Random, values: range | tuple[int, ...], most: int) -> str:
    return ",".join(str(value) for value in draw.sample(list(values), draw.randrange(1, most + 1)))


def rules_at_random(number: int) -> list[tuple[str, list[datetime]]]:
    """Portable text and the wall times that the rule itself gives, for rules that have such a form."""
    draw = random.Random(33310)
    found: list[tuple[str, list[datetime]]] = []
    while len(found) < number:
        first = datetime(2024, 1, 1, 19, 30) + timedelta(days=draw.randrange(800))
        start = first.replace(tzinfo=UTC)
        try:
            rule = Rule.parse(any_rule(draw)).anchored(first)
        except RuleError:
            continue
        met = occurrences(rule, first_wall=first, zone="UTC", from_utc=start, until_utc=start + SPAN)
        text = portable(rule, met[0].wall.date()) if met else None
        if text is not None:
            found.append((text, [meeting.wall for meeting in met]))
    return found


def test_dateutil_reads_the_dates_of_the_rule() -> None:
    for text, walls in rules_at_random(400):
        assert rrulestr(text, dtstart=walls[0]).between(walls[0], walls[-1], inc=True) == walls, text


@pytest.mark.node
def test_ical_js_reads_the_dates_of_the_rule() -> None:
    drawn = rules_at_random(600)
    event = (
        "BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nUID:1\r\nDTSTART:{:%Y%m%dT%H%M%SZ}\r\nRRULE:{}\r\n"
        "END:VEVENT\r\nEND:VCALENDAR"
    )
    answers = ask_ical_js(
        {"ics": event.format(walls[0], text), "until": walls[-1].replace(tzinfo=UTC).timestamp() + 1}
        for text, walls in drawn
    )
    wrong = [
        text
        for (text, walls), answer in zip(drawn, answers, strict=True)
        if [seen[1] for seen in answer["events"]] != [wall.replace(tzinfo=UTC).timestamp() for wall in walls]
    ]
    assert wrong == []
