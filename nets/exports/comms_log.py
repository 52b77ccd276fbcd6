"""A communications log on paper, with the items of ICS form 309.

Items as in widely used versions of ICS 309: incident name and number; operational period; net name or tactical call;
operator; then time, from, to and message by line; prepared by; date and time; page n of m. Times are local, on the
24-hour clock. Versions differ and add columns, so the columns are a table here and not a layout.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from clubops import clock
from nets.models import CheckIn
from nets.report import Report

LINES_A_PAGE = 24


@dataclass(frozen=True)
class Line:
    """One line: a local time, who called whom, under which message number, and what it was about."""

    at: dt.datetime
    sender: str
    sender_number: str
    receiver: str
    receiver_number: str
    message: str


@dataclass(frozen=True)
class Column:
    """One column of the log: its heading and what stands in it."""

    heading: str
    cell: Callable[[Line], str]


COLUMNS: tuple[Column, ...] = (
    Column("Time", lambda line: f"{line.at:%H:%M}"),
    Column("From", lambda line: line.sender),
    Column("From msg no.", lambda line: line.sender_number),
    Column("To", lambda line: line.receiver),
    Column("To msg no.", lambda line: line.receiver_number),
    Column("Message", lambda line: line.message),
)


@dataclass(frozen=True)
class Page:
    """One sheet: page `number` of `count`, with its rows as cells of `COLUMNS`."""

    number: int
    count: int
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class CommsLog:
    """The head of the form and its sheets. Times are wall times of `zone`."""

    incident: str
    period_from: dt.datetime | None
    period_to: dt.datetime | None
    net: str
    operator: str
    prepared_by: str
    prepared_at: dt.datetime
    zone: str
    pages: tuple[Page, ...]
    columns: tuple[str, ...] = tuple(column.heading for column in COLUMNS)


def comms_log(made: Report, *, incident: str, prepared_by: str, now: dt.datetime) -> CommsLog:
    """The log of a session as such a form. `incident` is the name or number, blank for an ordinary evening."""
    session, log = made.session, made.log
    zone = session.net.zone
    control = log.net_control if log else None
    lines = _lines(made, control.call_sign if control else "NET")
    sheets = [lines[start : start + LINES_A_PAGE] for start in range(0, len(lines), LINES_A_PAGE)] or [[]]
    cells = [tuple(tuple(column.cell(line) for column in COLUMNS) for line in sheet) for sheet in sheets]
    relay = session.relay_in_use
    return CommsLog(
        incident=incident,
        period_from=_wall(log.opened_at if log else None, zone),
        period_to=_wall(log.closed_at if log else None, zone),
        net=f"{session.net.name}, {relay.name if relay else 'simplex'}",
        operator=f"{control.name}, {control.call_sign}" if control else "",
        prepared_by=prepared_by,
        prepared_at=clock.to_wall(now, zone),
        zone=zone,
        pages=tuple(Page(index, len(cells), rows) for index, rows in enumerate(cells, start=1)),
    )


def _wall(at: dt.datetime | None, zone: str) -> dt.datetime | None:
    return clock.to_wall(at, zone) if at else None


def _lines(made: Report, control: str) -> list[Line]:
    """Opening, every check-in in the order heard, closing. Traffic gets a running message number."""
    zone, log = made.session.net.zone, made.log
    lines = []
    if log and log.opened_at:
        lines.append(Line(clock.to_wall(log.opened_at, zone), control, "", "all", "", "Net opened."))
    number = 0
    for row in made.rows:
        check_in = row.check_in
        if check_in.is_struck:
            continue
        number += bool(check_in.traffic)
        at = clock.to_wall(check_in.heard_at, zone)
        message_number = str(number) if check_in.traffic else ""
        lines.append(
            Line(at, check_in.call_sign, message_number, control, "", _message(check_in, row.is_again))
        )
    if log and log.closed_at:
        lines.append(Line(clock.to_wall(log.closed_at, zone), control, "", "all", "", "Net closed."))
    return lines


def _message(check_in: CheckIn, is_again: bool) -> str:
    words = ["Called in again." if is_again else "Checked in."]
    if check_in.traffic:
        words.append(f"{check_in.get_traffic_display().capitalize()} traffic.")
    words += [check_in.notes.strip(), f"Via {check_in.path_words}."]
    return " ".join(word for word in words if word)
