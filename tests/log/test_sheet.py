"""Check-ins from a table, and back into one."""

from __future__ import annotations

import csv
import io
import uuid

import pytest

from nets import report
from nets.checkins import sheet
from nets.checkins.sheet import SheetError
from nets.exports import table
from nets.models import CheckIn, Session
from tests.log.conftest import BY, Log, minutes

KEY = uuid.uuid5(uuid.NAMESPACE_DNS, "table")


def problems(text: str, session: Session) -> list[str]:
    return [row.problem for row in sheet.read(text, session).rows]


def save(text: str, session: Session, key: uuid.UUID = KEY) -> int:
    return sheet.save(sheet.read(text, session), session, key=key, by=BY, now=minutes(90))


def test_rows_are_read_by_their_headings(session: Session) -> None:
    save("Time;CALL;Signal report;Via;Notes\n19:42;qz2mem;57;Ridge 2 m;at the mill\n", session)
    row = CheckIn.objects.get()
    assert (row.call_sign, row.report, row.notes, row.path_words) == (
        "QZ2MEM",
        "57",
        "at the mill",
        "Ridge 2 m",
    )
    assert (row.heard_at, row.is_late_entry) == (minutes(12), True)


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        (",Ann,19:42,", "There is no call sign"),
        ("QZ2MEM,Ann,25:99,", "hours end at 23"),
        ("QZ2MEM,Ann,19:42,urgent", "“urgent” is not a precedence"),
        ("QZ2MEM,Ann,19:42,,extra", "5 cells and the heading 4"),
        (f"QZ2MEM,{'x' * 130},,", "130 characters; there is room for 120"),
    ],
)
def test_a_bad_row_gets_a_sentence_and_does_not_stop_the_others(
    session: Session, row: str, sentence: str
) -> None:
    read = sheet.read(f"Call sign,Name,Time,Traffic\n{row}\nQX7TAB,Tab,19:50,r\n", session)
    assert sentence in read.rows[0].problem
    assert [good.line for good in read.good] == [3]


def test_reading_saves_nothing(session: Session) -> None:
    sheet.read("Call sign\nQZ2MEM\n", session)
    assert not CheckIn.objects.exists()


def test_bad_rows_are_given_back_word_for_word(session: Session) -> None:
    text = 'Call sign,Time,Notes\nQZ2MEM,19:42,fine\n"QX7TAB", 99:99 ,"two\nlines, one note"\n'
    rest = sheet.read(text, session).rest
    assert rest == 'Call sign,Time,Notes\n"QX7TAB", 99:99 ,"two\nlines, one note"'
    assert problems(rest.replace("99:99", "19:50"), session) == [""]


def test_a_table_saved_twice_is_saved_once(session: Session) -> None:
    text = "Call sign,Time\nQZ2MEM,19:42\nQZ2MEM,19:42\nQX7TAB,19:50\n"
    assert (save(text, session), save(text, session)) == (3, 3)
    assert CheckIn.objects.count() == 3


def test_a_row_put_right_is_added_beside_the_saved_ones(session: Session) -> None:
    save("Call sign,Time\nQZ2MEM,19:42\nQX7TAB,xx\n", session)
    save("Call sign,Time\nQZ2MEM,19:42\nQX7TAB,19:50\n", session)
    assert CheckIn.objects.count() == 2


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "The table is empty"),
        ("QZ2MEM,Ann\nQZ2OFF,Bob", "none of its headings is “Call sign”"),
        ("Call sign\n" + "QZ2MEM\n" * 501, "501 rows; at most 500"),
        ('Call sign\n"QZ2MEM\n' + "x" * 140_000, "cannot be read as a table"),
    ],
)
def test_a_table_that_is_none_gets_a_sentence(session: Session, text: str, sentence: str) -> None:
    with pytest.raises(SheetError, match=sentence):
        sheet.read(text, session)


def test_columns_that_are_not_understood_are_named(session: Session) -> None:
    assert sheet.read("Call sign,Shoe size\nQZ2MEM,44\n", session).unknown_headings == ("Shoe size",)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_file_is_read_whatever_its_encoding(encoding: str) -> None:
    assert sheet.decode("Call sign,Name\r\nQZ2MEM,Zoë\r\n".encode(encoding)) == "Call sign,Name\nQZ2MEM,Zoë\n"


def test_a_file_that_is_no_text_or_too_large_is_refused() -> None:
    with pytest.raises(SheetError, match="not text"):
        sheet.decode(b"PK\x03\x04\x00\x00")
    with pytest.raises(SheetError, match="1,000,001 bytes"):
        sheet.decode(b"x" * 1_000_001)


def test_our_own_table_comes_back_as_it_went(session: Session, log: Log) -> None:
    log(
        "QX7TAB",
        at=minutes(5),
        name="=Zoë",
        place='-, "the" Mill',
        report="57",
        traffic="welfare",
        notes="a\nb",
    )
    log("QZ2MEM", at=minutes(6), via="link", via_note="room 7")
    text = table.csv_text(report.report(session))
    before = [as_logged(row) for row in CheckIn.objects.all()]
    CheckIn.objects.all().delete()
    assert save(text, session) == 2
    assert [as_logged(row) for row in CheckIn.objects.all()] == before


def as_logged(row: CheckIn) -> tuple[object, ...]:
    return (
        row.call_sign, row.name, row.place, row.heard_at, row.report, row.path_words, row.traffic, row.notes,
        row.member,
    )  # fmt: skip


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1"])
def test_no_cell_of_the_table_is_run_as_a_formula(session: Session, log: Log, text: str) -> None:
    log("QX7TAB", notes="x" + text)
    CheckIn.objects.update(notes=text)
    rows = list(
        csv.DictReader(io.StringIO(table.csv_text(report.report(session)).lstrip("\ufeff"), newline=""))
    )
    assert rows[0]["Notes"] == "'" + text


def test_struck_rows_are_marked_and_do_not_come_back(session: Session, log: Log) -> None:
    row = log("QX7TAB")
    row.is_struck = True
    row.save()
    assert "struck out" in problems(table.csv_text(report.report(session)), session)[0]


def remarks(text: str, session: Session) -> list[str]:
    return [row.remark for row in sheet.read(text, session).rows]


def test_a_station_that_is_in_the_log_already_is_marked(session: Session, log: Log) -> None:
    log("QZ2MEM")
    assert remarks("Call sign\nqz2mem/p\nQX7TAB\n", session) == [
        "In the log already; saved, it stands twice.",
        "",
    ]


def test_a_station_that_stands_twice_in_the_table_is_marked(session: Session) -> None:
    assert remarks("Call sign\nQX7TAB\nQX7TAB\n", session)[1] == (
        "The same station as line 2; saved, it stands twice."
    )


def test_what_is_not_a_whole_call_sign_is_marked_and_taken(session: Session) -> None:
    read = sheet.read("Call sign\n7XY\n", session)
    assert (read.rows[0].remark, read.rows[0].is_good) == (
        "Not a whole call sign; it is taken as it is.",
        True,
    )
