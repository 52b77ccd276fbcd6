"""Check-ins from a table: read, shown with a sentence for each bad row, and only then saved.

Nothing is saved by reading. Every row gets a key made from the table's own key and the row's words, so that a
table confirmed twice is saved once, and a row put right and sent again is a row of its own.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from clubops.members import callsigns
from clubops.spreadsheets import as_typed
from nets.checkins import entries
from nets.checkins.keeping import LogRefused, evening_of
from nets.checkins.typed import Evening, TypedError, read_call_sign, read_fields
from nets.models import Session

LARGEST_BYTES = 1_000_000
MOST_ROWS = 500

# Headings as people write them, lower case and without spaces or marks -> the field that they fill.
HEADINGS = {
    "callsign": "call_sign", "call": "call_sign", "station": "call_sign",
    "name": "name", "operator": "name",
    "place": "place", "location": "place", "town": "place",
    "time": "time", "localtime": "time", "heardat": "time",
    "date": "date", "utc": "utc", "timeutc": "utc", "utctime": "utc",
    "report": "report", "signalreport": "report", "rst": "report", "signal": "report",
    "via": "via", "path": "via", "relay": "via", "vianote": "via_note",
    "traffic": "traffic", "precedence": "traffic",
    "notes": "notes", "note": "notes", "comment": "notes", "comments": "notes", "remarks": "notes",
    "struckout": "struck",
}  # fmt: skip


class SheetError(ValueError):
    """A table that cannot be read at all; `sentence` says what was given and what would be right."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


@dataclass(frozen=True)
class SheetRow:
    """One row: its line in the table, its words, what they were read as, or what is wrong with them."""

    line: int
    text: str
    cells: Mapping[str, str]
    fields: Mapping[str, Any]
    problem: str = ""
    remark: str = ""

    @property
    def is_good(self) -> bool:
        return not self.problem

    @property
    def time(self) -> str:
        """The time as it was read, or as it was given where it could not be."""
        return str(self.fields.get("time") or self.cells.get("time") or self.cells.get("utc") or "")


@dataclass(frozen=True)
class Sheet:
    """A table that was read. `head` is its heading line as it was given."""

    head: str
    rows: tuple[SheetRow, ...]
    unknown_headings: tuple[str, ...]

    @property
    def good(self) -> list[SheetRow]:
        return [row for row in self.rows if row.is_good]

    @property
    def bad(self) -> list[SheetRow]:
        return [row for row in self.rows if not row.is_good]

    @property
    def rest(self) -> str:
        """The heading line and the bad rows: what remains to be put right."""
        return "\n".join([self.head, *(row.text for row in self.bad)]) if self.bad else ""


def decode(content: bytes) -> str:
    """The text of an uploaded file: UTF-8, UTF-16 with its mark, else Windows-1252. Raises `SheetError`."""
    if len(content) > LARGEST_BYTES:
        raise SheetError(
            f"This file has {len(content):,} bytes; a log has at most {LARGEST_BYTES:,}. Is it the right file?"
        )
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _plain(content.decode("utf-16", errors="replace"))
    if b"\x00" in content:
        raise SheetError("This file is not text. Save the table as CSV and choose that file.")
    try:
        return _plain(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        return _plain(content.decode("cp1252", errors="replace"))


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n").replace("\x00", "")


def read(text: str, session: Session) -> Sheet:
    """Read a table of check-ins for this session. Raises `SheetError` when no row can be told from another."""
    text = _plain(text).lstrip("\N{ZERO WIDTH NO-BREAK SPACE}")
    if not text.strip():
        raise SheetError("The table is empty. It needs a line of headings, such as “Call sign, Name, Time”.")
    head = next(line for line in text.splitlines() if line.strip())
    table = list(_records(text, _delimiter(head)))
    fields = [HEADINGS.get(_squeezed(heading), "") for heading in table[0][2]]
    if "call_sign" not in fields:
        raise SheetError(
            f"The first line is “{head.strip()[:80]}” and none of its headings is “Call sign”. "
            "Put a line of headings above the rows."
        )
    if len(table) - 1 > MOST_ROWS:
        raise SheetError(f"The table has {len(table) - 1} rows; at most {MOST_ROWS} are read at once.")
    evening = evening_of(session)
    rows = [_row(line, raw, cells, fields, evening) for line, raw, cells in table[1:] if any(cells)]
    rows = _remarked(rows, session)
    unknown = [
        heading.strip()
        for heading, field in zip(table[0][2], fields, strict=True)
        if not field and heading.strip() and _squeezed(heading) not in _OWN_EXTRAS
    ]
    return Sheet(head, tuple(rows), tuple(unknown))


# Columns of our own export that say nothing a check-in could take over.
_OWN_EXTRAS = {"visitor", "firsttime", "again", "lateentry", "loggedby"}


def _delimiter(head: str) -> str:
    return max(",;\t", key=head.count)


def _records(text: str, delimiter: str) -> Iterable[tuple[int, str, list[str]]]:
    """(line, the words as given, cells) of each row; a quoted cell may hold line breaks."""
    lines = text.splitlines(keepends=True)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    done = 0
    try:
        for cells in reader:
            raw = "".join(lines[done : reader.line_num]).rstrip("\n")
            first, done = done + 1, reader.line_num
            if raw.strip():
                yield first, raw, [as_typed(cell.strip()) for cell in cells]
    except csv.Error as problem:
        raise SheetError(f"Line {reader.line_num} cannot be read as a table: {problem}.") from problem


def _squeezed(heading: str) -> str:
    return "".join(letter for letter in heading.casefold() if letter.isalnum())


def _row(line: int, raw: str, cells: list[str], fields: list[str], evening: Evening) -> SheetRow:
    given = {field: cell for field, cell in zip(fields, cells, strict=False) if field}
    if len(cells) > len(fields) and any(cells[len(fields) :]):
        return SheetRow(
            line, raw, given, {}, f"This row has {len(cells)} cells and the heading {len(fields)}; "
            "put a cell that holds a comma between double quotes.",
        )  # fmt: skip
    try:
        return SheetRow(line, raw, given, _read_row(given, evening))
    except TypedError as problem:
        return SheetRow(line, raw, given, {}, problem.sentence)


def _remarked(rows: list[SheetRow], session: Session) -> list[SheetRow]:
    """The rows with what somebody should see before saving them; none of it stops them."""
    in_the_log = set(session.check_ins.filter(is_struck=False).values_list("call_sign", flat=True))
    lines: dict[str, int] = {}
    found = []
    for row in rows:
        call_sign = read_call_sign(row.fields["call_sign"]) if row.is_good else ""
        remark = ""
        if call_sign in lines:
            remark = f"The same station as line {lines[call_sign]}; saved, it stands twice."
        elif call_sign in in_the_log:
            remark = "In the log already; saved, it stands twice."
        elif call_sign and not callsigns.is_well_formed(call_sign):
            remark = "Not a whole call sign; it is taken as it is."
        lines.setdefault(call_sign, row.line)
        found.append(replace(row, remark=remark))
    return found


def _read_row(given: Mapping[str, str], evening: Evening) -> dict[str, Any]:
    """The row as `entries.record` takes it, checked field by field. Raises `TypedError`."""
    if given.get("struck"):
        raise TypedError(
            "struck", "This row was struck out in the log that it comes from; take it out, or the mark."
        )
    time = given.get("utc") or given.get("time") or ""
    if given.get("date") and given.get("time") and not given.get("utc"):
        time = f"{given['date']} {given['time']}"
    row = {
        "call_sign": given.get("call_sign", ""),
        "time": time,
        **{
            name: given.get(name, "")
            for name in ("name", "place", "report", "via", "via_note", "traffic", "notes")
        },
    }
    checked = [name for name, value in row.items() if value or name == "call_sign"]
    read_fields(row, evening, checked)
    return row


def save(sheet: Sheet, session: Session, *, key: uuid.UUID, by: str, now: dt.datetime) -> int:
    """Save the good rows; how many. Saving the same table with the same key again saves nothing new.

    Raises `LogRefused` as `entries.record` does.
    """
    evening = evening_of(session)
    seen: dict[str, int] = {}
    for row in sheet.good:
        # Two rows of the same words are two check-ins; the count tells them apart, whatever line they are on.
        seen[row.text] = seen.get(row.text, 0) + 1
        own_key = uuid.uuid5(key, f"{seen[row.text]}\n{row.text}")
        try:
            entries.record(session, row.fields, key=own_key, by=by, now=now, evening=evening)
        except TypedError as problem:
            raise LogRefused(f"Line {row.line}: {problem.sentence}") from problem
    return len(sheet.good)
