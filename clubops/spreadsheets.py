"""Tables for a spreadsheet: CSV after RFC 4180, UTF-8 with a mark that spreadsheets know, and nothing that runs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

BYTE_ORDER_MARK = "\N{ZERO WIDTH NO-BREAK SPACE}"
# A spreadsheet takes a cell that begins so for a formula; an apostrophe makes it text again.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def csv_text(headings: Sequence[str], rows: Iterable[Iterable[object]]) -> str:
    """The table with its headings; every cell as text that no spreadsheet will run."""
    out = io.StringIO(newline="")
    out.write(BYTE_ORDER_MARK)
    writer = csv.writer(out)
    writer.writerow(headings)
    writer.writerows([[harmless(str(cell)) for cell in row] for row in rows])
    return out.getvalue()


def harmless(text: str) -> str:
    """The text as a cell that no spreadsheet will run."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def as_typed(cell: str) -> str:
    """The text of a cell without the apostrophe of `harmless`."""
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(_FORMULA_STARTS) else cell
