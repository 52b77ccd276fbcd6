"""Tables that a spreadsheet reads as they were meant, and does not run."""

from __future__ import annotations

import csv
import io

import pytest

from clubops.spreadsheets import as_typed, csv_text, harmless


def test_the_table_says_that_it_is_utf_8_and_keeps_its_cells() -> None:
    """The signature EF BB BF: RFC 3629 section 6. Quotes and commas: RFC 4180 section 2, rules 6 and 7."""
    text = csv_text(("name", "note"), [("Zoë", 'a "b", c'), (1, "")])
    assert text.encode().startswith(b"\xef\xbb\xbf")
    read = list(csv.reader(io.StringIO(text.encode().decode("utf-8-sig"), newline="")))
    assert read == [["name", "note"], ["Zoë", 'a "b", c'], ["1", ""]]


@pytest.mark.parametrize("text", ["=1+1", "-3", "+4", "@home", "\tx"])
def test_what_looks_like_a_formula_becomes_text_and_comes_back(text: str) -> None:
    assert harmless(text) == f"'{text}"
    assert as_typed(harmless(text)) == text


@pytest.mark.parametrize("text", ["plain", "'quoted", ""])
def test_other_text_is_left_alone(text: str) -> None:
    assert harmless(text) == as_typed(text) == text
