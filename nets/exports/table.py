"""The log as a table for a spreadsheet: CSV after RFC 4180, in UTF-8 with a mark so that spreadsheets know."""

from __future__ import annotations

import csv
import datetime as dt
import io

from clubops import clock
from nets.report import Report, Row

HEADINGS = (
    "Call sign", "Name", "Place", "Date", "Time", "UTC", "Report", "Via", "Via note", "Traffic", "Notes",
    "Visitor", "First time", "Again", "Struck out", "Late entry", "Logged by",
)  # fmt: skip
# A spreadsheet takes a cell that begins so for a formula; an apostrophe makes it text again.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
BYTE_ORDER_MARK = "\N{ZERO WIDTH NO-BREAK SPACE}"


def csv_text(made: Report) -> str:
    """Every entry of the log, struck ones marked, in the order heard."""
    out = io.StringIO(newline="")
    out.write(BYTE_ORDER_MARK)
    writer = csv.writer(out)
    writer.writerow(HEADINGS)
    writer.writerows([[harmless(cell) for cell in _cells(row, made.session.net.zone)] for row in made.rows])
    return out.getvalue()


def harmless(text: str) -> str:
    """The text as a cell that no spreadsheet will run."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


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
