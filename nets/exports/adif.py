"""ADIF 3, the open format in which radio logs are exchanged: as ADI (tagged ASCII) and as ADX (XML).

After the Amateur Data Interchange Format specification 3.1.6 (adif.org): data specifiers `<NAME:length>data` with the
length in characters; records end in `<EOR>`; dates and times are UTC. What is from memory of that text: ADI carries
only the characters 32 to 126, so a name with an accent is spelled without it there and given in full as NAME_INTL
in ADX, which alone has international fields; band edges beside 2 m and 70 cm; the mode DIGITALVOICE and its submodes;
PROP_MODE RPT for a relay.

Each record is a contact of net control: FREQ is what net control sent on, the relay's input.
"""

from __future__ import annotations

import datetime as dt
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from xml.etree import ElementTree

from nets.models import CheckIn
from nets.report import Report
from relays.models import Relay

VERSION = "3.1.6"
PROGRAM = "CLUBOPS"
PROGRAM_VERSION = "1"

# (name, lowest, highest) in MHz, edges included.
BANDS = (
    ("10m", Decimal("28"), Decimal("29.7")),
    ("6m", Decimal("50"), Decimal("54")),
    ("4m", Decimal("70"), Decimal("71")),
    ("2m", Decimal("144"), Decimal("148")),
    ("1.25m", Decimal("222"), Decimal("225")),
    ("70cm", Decimal("420"), Decimal("450")),
    ("33cm", Decimal("902"), Decimal("928")),
    ("23cm", Decimal("1240"), Decimal("1300")),
)
MODES: Mapping[str, tuple[str, str]] = {
    Relay.Mode.FM: ("FM", ""),
    Relay.Mode.FM_NARROW: ("FM", ""),
    Relay.Mode.DMR: ("DIGITALVOICE", "DMR"),
    Relay.Mode.DSTAR: ("DIGITALVOICE", "DSTAR"),
    Relay.Mode.C4FM: ("DIGITALVOICE", "C4FM"),
    Relay.Mode.P25: ("DIGITALVOICE", ""),
}
# Fields that ADX also has in an international form.
INTERNATIONAL = ("NAME", "QTH", "COMMENT", "NOTES")
_SPELLED = str.maketrans(
    {"ß": "ss", "æ": "ae", "Æ": "AE", "ø": "o", "Ø": "O", "œ": "oe", "Œ": "OE", "ł": "l", "Ł": "L", "đ": "d",
     "Đ": "D", "ð": "d", "þ": "th", "ı": "i", "’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-",
     "−": "-", "…": "..."}
)  # fmt: skip


@dataclass(frozen=True)
class Record:
    """One contact: ADIF field to text, and fields of our own."""

    fields: Mapping[str, str]
    own: Mapping[str, str] = field(default_factory=dict)


def band(frequency_mhz: Decimal) -> str:
    """The ADIF band that holds the frequency, or the empty string."""
    return next((name for name, low, high in BANDS if low <= frequency_mhz <= high), "")


def ascii_only(text: str) -> str:
    """The text in the characters 32 to 126: accents dropped, other letters spelled or "?", lines joined."""
    plain = unicodedata.normalize("NFKD", " ".join(text.translate(_SPELLED).split()))
    letters = (letter for letter in plain if not unicodedata.combining(letter))
    return "".join(letter if " " <= letter <= "~" else "?" for letter in letters)


def records(made: Report) -> tuple[list[Record], list[str]]:
    """The contacts of a session, and a sentence for each entry that is none.

    A station heard twice is one contact. Part of a call sign, a struck entry and net control's own are left out.
    """
    own_call = made.log.net_control.call_sign if made.log and made.log.net_control else ""
    kept, left_out = [], []
    for row in made.rows:
        check_in = row.check_in
        if check_in.is_struck or row.is_again or check_in.call_sign == own_call:
            continue
        if not check_in.is_whole:
            left_out.append(f"{check_in.call_sign} is not a whole call sign.")
            continue
        kept.append(_record(check_in, made, own_call))
    return kept, left_out


def _record(check_in: CheckIn, made: Report, own_call: str) -> Record:
    heard_at = check_in.heard_at.astimezone(dt.UTC)
    mode, submode = _mode(made.session.relay_in_use)
    rst = check_in.report if check_in.readability else ""
    words = [f"via {check_in.path_words}", "" if rst else check_in.report]
    given = {
        "CALL": check_in.call_sign,
        "QSO_DATE": f"{heard_at:%Y%m%d}",
        "TIME_ON": f"{heard_at:%H%M%S}",
        **_frequencies(check_in, made),
        "MODE": mode,
        "SUBMODE": submode,
        "PROP_MODE": "RPT" if check_in.via == CheckIn.Via.RELAY else "",
        "RST_SENT": rst,
        "NAME": check_in.name,
        "QTH": check_in.place,
        "STATION_CALLSIGN": own_call,
        "OPERATOR": own_call,
        "COMMENT": "; ".join(word for word in words if word),
        "NOTES": check_in.notes,
    }
    own = {"NET": made.session.net.name, "PRECEDENCE": check_in.traffic}
    return Record(
        {name: text for name, text in given.items() if text},
        {name: text for name, text in own.items() if text},
    )


def _mode(relay: Relay | None) -> tuple[str, str]:
    return MODES[relay.mode] if relay else ("FM", "")


def _frequencies(check_in: CheckIn, made: Report) -> dict[str, str]:
    """Where net control sent and listened. For simplex beside a relay net only the band is known."""
    relay, simplex_mhz = made.session.relay_in_use, made.session.terms.simplex_mhz
    if relay is None:
        return {"BAND": band(simplex_mhz), "FREQ": _mhz(simplex_mhz)} if simplex_mhz else {}
    if check_in.via == CheckIn.Via.SIMPLEX:
        return {"BAND": band(relay.output_mhz)}
    return {
        "BAND": band(relay.input_mhz),
        "FREQ": _mhz(relay.input_mhz),
        "BAND_RX": band(relay.output_mhz),
        "FREQ_RX": _mhz(relay.output_mhz),
    }


def _mhz(frequency_mhz: Decimal) -> str:
    return f"{frequency_mhz:.4f}"


def _header(now: dt.datetime) -> dict[str, str]:
    return {
        "ADIF_VER": VERSION,
        "CREATED_TIMESTAMP": f"{now.astimezone(dt.UTC):%Y%m%d %H%M%S}",
        "PROGRAMID": PROGRAM,
        "PROGRAMVERSION": PROGRAM_VERSION,
    }


def adi(contacts: Iterable[Record], *, title: str, left_out: Iterable[str] = (), now: dt.datetime) -> str:
    """An ADI file, lines ended by CR LF. `title` and `left_out` stand in the free text before the header."""
    preamble = [title, *left_out]
    # The free text must not begin with "<", or a reader takes the file for one without a header.
    lines = [ascii_only(line).replace("<", "(").replace(">", ")") for line in preamble]
    lines += [_tagged(name, text) for name, text in _header(now).items()]
    lines.append("<EOH>")
    for contact in contacts:
        tagged = [_tagged(name, text) for name, text in contact.fields.items()]
        tagged += [_tagged(f"APP_{PROGRAM}_{name}", text) for name, text in contact.own.items()]
        lines.append(" ".join([*tagged, "<EOR>"]))
    return "\r\n".join(lines) + "\r\n"


def _tagged(name: str, text: str) -> str:
    plain = ascii_only(text)
    return f"<{name}:{len(plain)}>{plain}"


def adx(contacts: Iterable[Record], *, now: dt.datetime) -> bytes:
    """An ADX file in UTF-8, with an international field beside each text that ASCII cannot hold."""
    root = ElementTree.Element("ADX")
    header = ElementTree.SubElement(root, "HEADER")
    for name, text in _header(now).items():
        ElementTree.SubElement(header, name).text = text
    body = ElementTree.SubElement(root, "RECORDS")
    for contact in contacts:
        element = ElementTree.SubElement(body, "RECORD")
        for name, text in _with_international(contact.fields):
            ElementTree.SubElement(element, name).text = text
        for name, text in contact.own.items():
            own = ElementTree.SubElement(element, "APP", PROGRAMID=PROGRAM, FIELDNAME=name, TYPE="S")
            own.text = ascii_only(text)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)


def _with_international(fields: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    for name, text in fields.items():
        plain = ascii_only(text)
        yield name, plain
        if name in INTERNATIONAL and plain != text:
            # XML 1.0 cannot hold control characters at all.
            yield f"{name}_INTL", "".join(each for each in text if each >= " " or each in "\t\n\r")
