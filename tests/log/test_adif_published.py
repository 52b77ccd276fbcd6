"""ADIF files against the rules of the format itself.

Source: Amateur Data Interchange Format, specification 3.1.x (adif.org). Checked against its text: a data specifier
is `<NAME:length>` or `<NAME:length:type>` followed by that many characters; names are case-free; the length is ASCII
digits; a file that does not begin with "<" has a header that ends in <EOH>; records end in <EOR>; QSO_DATE is YYYYMMDD
and TIME_ON HHMMSS, both UTC; own fields are called APP_programid_name; 2 m is 144 to 148 MHz and 70 cm 420 to 450 MHz,
edges included. From memory of the same text, not checked: characters of an ADI string are 32 to 126; _INTL fields
stand in ADX only; DIGITALVOICE with its submodes; PROP_MODE RPT.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from decimal import Decimal
from xml.etree import ElementTree

import pytest

from nets import report
from nets.exports import adif
from nets.models import Session, SessionLog
from relays.models import Relay
from tests.log.conftest import Log, minutes

SPECIFIER = re.compile(r"<([^:<>]+):(\d+)(?::[A-Za-z])?>|<(EOH|EOR)>", re.IGNORECASE)


def read_adi(text: str) -> tuple[dict[str, str], list[dict[str, str]]]:
    """A strict reader: takes exactly as many characters as each length says, and allows only space between."""
    assert not text.startswith("<")
    at = text.index("<")
    header: dict[str, str] = {}
    records: list[dict[str, str]] = []
    fields: dict[str, str] = {}
    while match := SPECIFIER.match(text, at):
        at = match.end()
        if (end := (match[3] or "").upper()) == "EOH":
            header, fields = fields, {}
        elif end == "EOR":
            records.append(fields)
            fields = {}
        else:
            length = int(match[2])
            fields[match[1].upper()] = text[at : at + length]
            at += length
        at += len(text[at:]) - len(text[at:].lstrip())
    assert (at, fields) == (len(text), {}), text[at : at + 40]
    return header, records


def adi(session: Session) -> str:
    contacts, left_out = adif.records(report.report(session))
    return adif.adi(contacts, title=session.net.name, left_out=left_out, now=minutes(60))


def only(session: Session) -> dict[str, str]:
    [record] = read_adi(adi(session))[1]
    return record


def test_a_check_in_becomes_a_contact_of_net_control(session: Session, opened: SessionLog, log: Log) -> None:
    """19:35 in New York on 3 March is 00:35 UTC on the 4th (tz database)."""
    log(
        "QX7TAB",
        at=minutes(5),
        report="57",
        name="Tabea",
        place="Far Dale",
        notes="New radio",
        traffic="routine",
    )
    assert only(session) == {
        "CALL": "QX7TAB", "QSO_DATE": "20260304", "TIME_ON": "003500", "BAND": "2m", "FREQ": "146.1300",
        "BAND_RX": "2m", "FREQ_RX": "146.7300", "MODE": "FM", "PROP_MODE": "RPT", "RST_SENT": "57", "NAME": "Tabea",
        "QTH": "Far Dale", "STATION_CALLSIGN": "QZ2NCS", "OPERATOR": "QZ2NCS", "COMMENT": "via Ridge 2 m",
        "NOTES": "New radio", "APP_CLUBOPS_NET": "Ridge Net", "APP_CLUBOPS_PRECEDENCE": "routine",
    }  # fmt: skip


def test_the_header_names_version_program_and_time(session: Session) -> None:
    header, records = read_adi(adi(session))
    assert records == []
    assert header == {
        "ADIF_VER": "3.1.6", "CREATED_TIMESTAMP": "20260304 013000", "PROGRAMID": "CLUBOPS", "PROGRAMVERSION": "1",
    }  # fmt: skip


@pytest.mark.parametrize(
    "name", ["Zoë Łukasiewicz", "東京", "Straße", "<EOR>", "a:b>c", "👋 Ann", "x\ny", ""]
)
def test_the_length_counts_the_characters_that_follow(session: Session, log: Log, name: str) -> None:
    log("QX7TAB", name=name, notes=f"{name} and {name}")
    log("QX7TAC")
    _, records = read_adi(adi(session))
    assert [record["CALL"] for record in records] == ["QX7TAB", "QX7TAC"]


def test_tagged_text_holds_nothing_but_printable_ascii(session: Session, log: Log) -> None:
    log("QX7TAB", name="Zoë Łukasiewicz", notes="Grüße – 73 … €")
    assert all(" " <= letter <= "~" for letter in adi(session).replace("\r\n", ""))
    assert only(session)["NAME"] == "Zoe Lukasiewicz"
    assert only(session)["NOTES"] == "Grusse - 73 ... ?"


def test_xml_keeps_the_name_as_it_is_written(session: Session, log: Log) -> None:
    log("QX7TAB", name="Zoë", place="Ely", notes="a < b & c\x07", traffic="welfare")
    contacts, _ = adif.records(report.report(session))
    root = ElementTree.fromstring(adif.adx(contacts, now=minutes(60)))
    record = root.find("RECORDS/RECORD")
    assert root.tag == "ADX"
    assert record is not None
    assert (record.findtext("NAME"), record.findtext("NAME_INTL")) == ("Zoe", "Zoë")
    assert (record.findtext("QTH"), record.find("QTH_INTL")) == ("Ely", None)
    assert record.findtext("NOTES_INTL") == "a < b & c"
    own = {each.get("FIELDNAME"): (each.get("PROGRAMID"), each.text) for each in record.findall("APP")}
    assert own["PRECEDENCE"] == ("CLUBOPS", "welfare")


@pytest.mark.parametrize(
    ("frequency_mhz", "band"),
    [
        ("144", "2m"),
        ("148", "2m"),
        ("148.0001", ""),
        ("420", "70cm"),
        ("450", "70cm"),
        ("419.9999", ""),
        ("146.52", "2m"),
    ],
)
def test_bands_include_their_edges(frequency_mhz: str, band: str) -> None:
    assert adif.band(Decimal(frequency_mhz)) == band


@pytest.mark.parametrize(
    ("mode", "fields"),
    [
        ("fm", ("FM", None)), ("fm_narrow", ("FM", None)), ("dmr", ("DIGITALVOICE", "DMR")),
        ("dstar", ("DIGITALVOICE", "DSTAR")), ("c4fm", ("DIGITALVOICE", "C4FM")), ("p25", ("DIGITALVOICE", None)),
    ],
)  # fmt: skip
def test_every_mode_of_a_relay_has_a_mode(
    session: Session, log: Log, mode: str, fields: tuple[str, str | None]
) -> None:
    Relay.objects.update(mode=mode)
    log("QX7TAB")
    session = Session.objects.get(pk=session.pk)
    record = only(session)
    assert (record["MODE"], record.get("SUBMODE")) == fields


def test_no_mode_of_a_relay_is_forgotten() -> None:
    assert set(adif.MODES) == set(Relay.Mode)


def test_simplex_beside_a_relay_net_gives_the_band_and_no_frequency(session: Session, log: Log) -> None:
    log("QX7TAB", via="simplex")
    record = only(session)
    assert record["BAND"] == "2m"
    assert not {"FREQ", "FREQ_RX", "PROP_MODE"} & set(record)


def test_a_station_heard_twice_is_one_contact(session: Session, log: Log) -> None:
    log("QX7TAB")
    log("QX7TAB", at=minutes(9))
    assert only(session)["TIME_ON"] == "003200"


def test_part_of_a_call_sign_is_left_out_and_said_so(session: Session, log: Log) -> None:
    log("2TA")
    text = adi(session)
    assert read_adi(text)[1] == []
    assert text.splitlines()[1] == "2TA is not a whole call sign."


def test_nobody_contacts_themselves(session: Session, opened: SessionLog, log: Log) -> None:
    log("QZ2NCS")
    assert read_adi(adi(session))[1] == []


def test_a_report_in_words_is_a_comment(session: Session, log: Log) -> None:
    log("QX7TAB", report="scratchy")
    record = only(session)
    assert "RST_SENT" not in record
    assert record["COMMENT"] == "via Ridge 2 m; scratchy"


def test_a_time_past_midnight_utc_keeps_its_own_date(
    session: Session, log: Log, earlier: Callable[[int], Session]
) -> None:
    """An hour before UTC's midnight the date is still the 3rd."""
    past = earlier(2)
    past.starts_at = dt.datetime(2026, 2, 17, 23, 0, tzinfo=dt.UTC)
    past.ends_at = past.starts_at + dt.timedelta(hours=2)
    past.save()
    for minute in (59, 60):
        log(f"QX7TA{'AB'[minute - 59]}", at=past.starts_at + dt.timedelta(minutes=minute), into=past)
    assert [(each["QSO_DATE"], each["TIME_ON"]) for each in read_adi(adi(past))[1]] == [
        ("20260217", "235900"), ("20260218", "000000"),
    ]  # fmt: skip
