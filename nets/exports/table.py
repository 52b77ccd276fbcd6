"""The log as a table for a spreadsheet."""

from __future__ import annotations

import datetime as dt

from clubops import clock, spreadsheets
from nets.report import Report, Row

HEADINGS = (
    "Call sign", "Name", "Place", "Date", "Time", "UTC", "Report", "Via", "Via note", "Traffic", "Notes",
    "Visitor", "First time", "Again", "Struck out", "Late entry", "Logged by",
)  # fmt: skip


def csv_text(made: Report) -> str:
    """Every entry of the log, struck ones marked, in the order heard."""
    zone = made.session.net.zone
    return spreadsheets.csv_text(HEADINGS, (_cells(row, zone) for row in made.rows))


def _cells(row: Row, zone: str) -> list[str]:
    check_in = row.check_in
    wall = clock.to_wall(check_in.heard_at, zone)
    way = check_in.relay.name if check_in.relay and check_in.via == "relay" else check_in.get_via_display()
    return [
        check_in.call_sign,
        check_in.name,
        check_in.place,
        f"{wall:%Y-%m-%d}",
        f"{wall:%H:%M:%S}",
        f"{check_in.heard_at.astimezone(dt.UTC):%Y-%m-%dT%H:%M:%SZ}",
        check_in.report,
        way,
        check_in.via_note,
        check_in.traffic,
        check_in.notes,
        _yes(check_in.is_visitor),
        _yes(row.is_new),
        _yes(row.is_again),
        _yes(check_in.is_struck),
        _yes(check_in.is_late_entry),
        check_in.logged_by,
    ]


def _yes(value: bool) -> str:
    return "yes" if value else ""
