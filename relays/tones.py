"""Access tones (CTCSS) and access codes (DCS): the standard sets, and the arithmetic behind the codes.

Makers number tones differently and some print slightly different ones (69.4 for 69.3, 67.1 for 67.0), so a
tone is kept in hertz to a tenth and is never moved to a neighbour on its own.

A DCS word is a 23-bit Golay code word sent over and over: nine bits of code, the fixed bits 100, eleven bits
of parity. Nothing marks where it begins, so a receiver cannot tell a word from its rotations, nor a code
sent with the opposite deviation from the code of the complement: 023 inverted is the same signal as 047.
"""

import re
from decimal import Decimal, InvalidOperation

# The three sets in use, each within the next; common practice, no source. In hertz. Of those that set C adds,
# 165.5, 171.3 and 177.3 are from memory.
_CLASSIC = (
    "67.0 71.9 74.4 77.0 79.7 82.5 85.4 88.5 91.5 94.8 97.4 100.0 103.5 107.2 110.9 114.8 118.8 123.0 127.3 "
    "131.8 136.5 141.3 146.2 151.4 156.7 162.2 167.9 173.8 179.9 186.2 192.8 203.5 210.7 218.1 225.7 233.6 "
    "241.8 250.3"
)
_ADDED_IN_B = "69.3"
_ADDED_IN_C = "159.8 165.5 171.3 177.3 183.5 189.9 196.6 199.5 206.5 229.1 254.1"


def _tones(*lists: str) -> tuple[Decimal, ...]:
    return tuple(sorted(Decimal(tone) for tone in " ".join(lists).split()))


# Name of a set to its tones in hertz, ascending: A the 38 classic ones, B with 69.3, C the extended 50.
CTCSS_SETS_HZ = {
    "A": _tones(_CLASSIC),
    "B": _tones(_CLASSIC, _ADDED_IN_B),
    "C": _tones(_CLASSIC, _ADDED_IN_B, _ADDED_IN_C),
}

# The 83 codes in general use and the 21 that makers add; common practice, no source. 455 is from memory: one
# list in print has 645 in its place, which is a rotation of 526, so that list holds one signal twice.
_GENERAL = (
    "023 025 026 031 032 043 047 051 054 065 071 072 073 074 114 115 116 125 131 132 134 143 152 155 156 162 "
    "165 172 174 205 223 226 243 244 245 251 261 263 265 271 306 311 315 331 343 346 351 364 365 371 411 412 "
    "413 423 431 432 445 464 465 466 503 506 516 532 546 565 606 612 624 627 631 632 654 662 664 703 712 723 "
    "731 732 734 743 754"
)
_ADDED = "036 053 122 145 212 225 246 252 255 266 274 325 332 356 446 452 454 455 462 523 526"
DCS_83 = tuple(_GENERAL.split())
DCS_104 = tuple(sorted((*DCS_83, *_ADDED.split())))

_WORD_BITS = 23
_DATA_BITS = 12
_PARITY_BITS = 11
_CODE_BITS = 9
_WORD_MASK = (1 << _WORD_BITS) - 1
_CODE_MASK = (1 << _CODE_BITS) - 1
_FIXED = 0b100
# Generator of the (23,12) Golay code: x^11 + x^10 + x^6 + x^5 + x^4 + x^2 + 1.
_GENERATOR = 0xC75


class ToneError(ValueError):
    """A tone or code that no standard set has; the message is a sentence. Attribute: `value` as given."""

    def __init__(self, value: object, sentence: str) -> None:
        self.value = value
        super().__init__(sentence)


def ctcss(value: Decimal | float | str, tone_set: str = "C") -> Decimal:
    """The access tone in hertz with one decimal, if it is exactly one of the set A, B or C.

    100 and "100" are 100.0; 100.1 is refused with its neighbours named, never moved to one of them. Raises
    `ToneError`, and `KeyError` for a set that does not exist.
    """
    tones_hz = CTCSS_SETS_HZ[tone_set]
    try:
        asked_hz = Decimal(str(value).strip())
    except InvalidOperation:
        asked_hz = Decimal("NaN")
    if not asked_hz.is_finite():
        raise ToneError(value, f"“{value}” is not a tone; give its frequency in hertz, such as 103.5.")
    for tone_hz in tones_hz:
        if tone_hz == asked_hz:
            return tone_hz
    below = [tone_hz for tone_hz in tones_hz if tone_hz < asked_hz][-1:]
    above = [tone_hz for tone_hz in tones_hz if tone_hz > asked_hz][:1]
    near = " and ".join(f"{tone_hz} Hz" for tone_hz in below + above)
    raise ToneError(value, f"{value} Hz is not one of the standard tones; the nearest to it: {near}.")


def dcs(code: str | int) -> str:
    """The access code as three octal digits, if it is one of the 104. "D023N", "23" and 23 are 023.

    Raises `ToneError`; for an inverted code the sentence names the code that is the same signal.
    """
    written = re.fullmatch(r"D?([0-9]{1,3})([NI]?)", str(code).strip().upper(), re.ASCII)
    if not written or re.search("[89]", written[1]):
        raise ToneError(code, f"“{code}” is not an access code; one has three digits, 0 to 7, such as 023.")
    digits = written[1].zfill(3)
    same = [other for other in rotations(digits) if other in DCS_104]
    if digits not in DCS_104:
        hint = f"it is the same signal as {same[0]}" if same else "take one from the list, such as 023"
        raise ToneError(code, f"{digits} is not one of the 104 standard codes; {hint}.")
    if written[2] == "I":
        other = inverted(digits)
        raise ToneError(code, f"{digits} inverted is the same signal as {other}; give {other}.")
    return digits


def code_word(code: str) -> int:
    """The 23-bit word of an octal code: the code in bits 0 to 8, 100 above it, then the parity bits.

    Golay (23,12), the parity being x^11 times the data, modulo the generator. 023 gives 0x763813.
    """
    data = _FIXED << _CODE_BITS | int(code, 8)
    parity = data << _PARITY_BITS
    for bit in reversed(range(_PARITY_BITS, _PARITY_BITS + _DATA_BITS)):
        if parity >> bit & 1:
            parity ^= _GENERATOR << (bit - _PARITY_BITS)
    return parity << _DATA_BITS | data


def rotations(code: str) -> tuple[str, ...]:
    """Every octal code whose word is a rotation of this one's, so the same signal; itself included."""
    return _codes_in(code_word(code))


def inverses(code: str) -> tuple[str, ...]:
    """Every octal code that sent upside down is this one's signal, ascending."""
    return _codes_in(code_word(code) ^ _WORD_MASK)


def inverted(code: str) -> str:
    """The one of the 104 codes that is this code's signal with the opposite deviation.

    Raises `ToneError` where none of the 104 is.
    """
    for other in inverses(code):
        if other in DCS_104:
            return other
    raise ToneError(code, f"No standard code is the inverse of {code}.")


def _codes_in(word: int) -> tuple[str, ...]:
    turned = [(word << turn | word >> (_WORD_BITS - turn)) & _WORD_MASK for turn in range(_WORD_BITS)]
    return tuple(
        sorted(f"{each & _CODE_MASK:03o}" for each in turned if each >> _CODE_BITS & 0b111 == _FIXED)
    )
