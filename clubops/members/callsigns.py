"""Call signs: what one looks like, and whether any country could issue it. Two questions, two answers.

Shape after the ITU Radio Regulations, Article 19, Nos. 19.45 to 19.50 and 19.68 to 19.69 (as revised by the
conference of 2007; No. 19.69 allows the digits 0 and 1 to amateur stations). Series after Appendix 42:
nothing begins with Q, with 0 or 1, or with a letter and 0 or 1, unless the first letter alone is the series.
An invented club can therefore use Q and be well formed without ever being somebody.
"""

import re
import unicodedata

# No. 19.68: these letters alone name a country, so one of them and a digit may begin a call sign.
_ONE_CHARACTER = "BFGIKMNRW"
# No. 19.50: two letters, a letter and a digit, or a digit and a letter; never two digits.
_TWO_CHARACTERS = "[A-Z][A-Z0-9]|[0-9][A-Z]"
# Nos. 19.50.1 and 19.68.1: series shared by two countries take a third letter and a shorter suffix. Which
# series those are is from memory of Appendix 42 (3DA-3DM with 3DN-3DZ, SSA-SSM with SSN-SSZ).
_HALF_SERIES = "(?:3D|SS)[A-Z]"

_ORDINARY_SUFFIX = 4
# No. 19.68A allows more on special occasions and sets no number.
_SPECIAL_SUFFIX = 12

_SPOKEN_MARKS = re.compile(r"\b(?:SLANT|STROKE|SLASH)\b")
# Nos. 19.46 to 19.48; QRA to QUZ as the FCC's list of call signs it does not issue has it.
_RESERVED_SUFFIX = re.compile(r"SOS|Q[R-U][A-Z]")

_RIGHT_SHAPE = (
    "A call sign has one or two characters for the country, a digit, and up to four characters of which the "
    "last is a letter, such as QZ2AAA."
)


class CallSignError(ValueError):
    """Text that cannot be a call sign; the message is a sentence. Attribute: `text` as given."""

    def __init__(self, text: str, why: str) -> None:
        self.text = text
        super().__init__(f"“{text.strip()}” {why}. {_RIGHT_SHAPE}")


def normalise(text: str, *, special_event: bool = False) -> str:
    """The call sign in capitals, without spaces, portable marks ("/P", "slant mobile") or a visitor's prefix.

    Of the parts between slants the longest that has the shape of a call sign is taken: QZ2AAA from
    "F/qz2aaa/p". A slashed zero is a zero. With `special_event` the suffix may be longer (No. 19.68A).
    Raises `CallSignError`.
    """
    plain = unicodedata.normalize("NFKC", text).upper().replace("Ø", "0")
    parts = ["".join(part.split()) for part in _SPOKEN_MARKS.sub("/", plain).split("/")]
    fitting = [part for part in parts if _readings(part, special_event)]
    if fitting:
        return max(fitting, key=len)
    raise CallSignError(text, _why_not(max(parts, key=len)))


def is_well_formed(text: str, *, special_event: bool = False) -> bool:
    """True where the text, marks aside, has the shape of a call sign. It may still be nobody's."""
    try:
        normalise(text, special_event=special_event)
    except CallSignError:
        return False
    return True


def is_allocatable(text: str, *, special_event: bool = False) -> bool:
    """True where some country could issue this: well formed, in a series that exists, not reserved."""
    return is_well_formed(text, special_event=special_event) and not why_not_allocatable(
        text, special_event=special_event
    )


def why_not_allocatable(text: str, *, special_event: bool = False) -> str:
    """Why no country issues this call sign, as a sentence, or the empty string. Raises `CallSignError`."""
    call_sign = normalise(text, special_event=special_event)
    readings = _readings(call_sign, special_event)
    if not any(_is_a_series(country) for country, _ in readings):
        return (
            f"No country has call signs that begin with {call_sign[:2]} (ITU Radio Regulations, Appendix 42)."
        )
    reserved = next((suffix for _, suffix in readings if _RESERVED_SUFFIX.fullmatch(suffix)), "")
    if reserved:
        return f"{reserved} has a meaning of its own on the air (Radio Regulations, Nos. 19.46 to 19.48)."
    return ""


def _readings(part: str, special_event: bool) -> list[tuple[str, str]]:
    """Every way to read the text as (country, suffix) about one digit; B12AA is B1 and AA, or B and 2AA."""
    longest = _SPECIAL_SUFFIX if special_event else _ORDINARY_SUFFIX
    shapes = [
        rf"([{_ONE_CHARACTER}])[0-9]([A-Z0-9]{{0,{longest - 1}}}[A-Z])",
        rf"({_TWO_CHARACTERS})[0-9]([A-Z0-9]{{0,{longest - 1}}}[A-Z])",
        rf"({_HALF_SERIES})[0-9]([A-Z0-9]{{0,{longest - 2}}}[A-Z])",
    ]
    matches = [re.fullmatch(shape, part, re.ASCII) for shape in shapes]
    return [(match[1], match[2]) for match in matches if match]


def _is_a_series(country: str) -> bool:
    return len(country) == 1 or (country[0] not in "Q01" and country[1] not in "01")


def _why_not(part: str) -> str:
    if not part:
        return "is no call sign"
    strange = next((character for character in part if not re.fullmatch("[A-Z0-9]", character)), "")
    if strange:
        return f"has the character “{strange}”, which is neither a letter from A to Z nor a digit"
    if not re.search("[0-9]", part):
        return "has no digit"
    if not re.search("[A-Z]", part):
        return "has no letter"
    if part[-1].isdigit():
        return "ends in a digit"
    if re.match("[0-9]{2}", part):
        return "begins with two digits"
    return "does not have the shape of a call sign"
