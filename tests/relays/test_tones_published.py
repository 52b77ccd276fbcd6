"""Access tones and codes against the lists in use and the arithmetic of the Golay code.

The sets are common practice (no standard is at hand); what is checked is their counts, how they lie in each
other, and that the codes obey M. Golay's (23,12) code (Proc. IRE, 1949): every pair below follows from the
arithmetic alone and was computed apart from this program's code.
"""

import re
from decimal import Decimal
from itertools import combinations

import pytest

from relays import tones
from relays.tones import DCS_83, DCS_104, ToneError

PAIRS = """
023/047 025/244 026/464 031/627 032/051 036/172 043/445 053/452 054/413 065/271 071/306 072/245
073/506 074/174 114/712 115/152 116/754 122/225 125/365 131/364 132/546 134/223 143/412 145/274
155/731 156/265 162/503 165/251 205/263 212/356 226/411 243/351 246/523 252/462 255/446 261/732
266/454 311/664 315/423 325/526 331/465 332/455 343/532 346/612 371/734 431/723 432/516 466/662
565/703 606/631 624/632 654/743
"""
INVERSION_PAIRS = PAIRS.split()
GOLAY_DISTANCE = 7


def test_the_sets_of_tones_lie_in_each_other():
    a, b, c = (set(tones.CTCSS_SETS_HZ[name]) for name in "ABC")
    assert (len(a), len(b), len(c)) == (38, 39, 50)
    assert a < b < c
    assert b - a == {Decimal("69.3")}


def test_the_odd_military_tone_is_in_no_set():
    with pytest.raises(ToneError):
        tones.ctcss("150.0")


@pytest.mark.parametrize("value", [100, 100.0, "100", " 100.0 ", "100.00", Decimal(100)])
def test_a_tone_without_its_decimal_is_still_that_tone(value):
    assert str(tones.ctcss(value)) == "100.0"


def test_every_tone_of_a_set_is_accepted_and_comes_back_in_tenths():
    assert [tones.ctcss(float(tone)) for tone in tones.CTCSS_SETS_HZ["C"]] == list(tones.CTCSS_SETS_HZ["C"])


@pytest.mark.parametrize(
    ("value", "near"),
    [
        ("100.1", "100.0 Hz and 103.5 Hz"),
        ("69.4", "69.3 Hz and 71.9 Hz"),
        (67.1, "67.0 Hz and 69.3 Hz"),
        ("1750", "254.1 Hz."),
        ("-5", "67.0 Hz."),
    ],
)
def test_a_tone_in_no_set_is_refused_with_its_neighbours(value, near):
    with pytest.raises(ToneError, match=re.escape(near)) as caught:
        tones.ctcss(value)
    assert caught.value.value == value


def test_a_tone_of_the_extended_set_is_not_in_the_classic_one():
    assert tones.ctcss("199.5") == Decimal("199.5")
    with pytest.raises(ToneError, match=re.escape("192.8 Hz and 203.5 Hz")):
        tones.ctcss("199.5", "A")


@pytest.mark.parametrize("value", ["", "high", "103,5", "nan", "inf", "1e400x"])
def test_what_is_no_number_is_refused(value):
    with pytest.raises(ToneError, match="is not a tone; give its frequency in hertz"):
        tones.ctcss(value)


def test_the_sets_of_codes_have_83_and_104():
    assert (len(set(DCS_83)), len(set(DCS_104))) == (83, 104)
    assert set(DCS_83) < set(DCS_104)


def test_the_word_of_023():
    assert tones.code_word("023") == 0x763813


def test_every_word_is_at_the_golay_distance_from_every_other():
    words = [tones.code_word(code) for code in DCS_104]
    assert min((one ^ other).bit_count() for one, other in combinations(words, 2)) >= GOLAY_DISTANCE


@pytest.mark.parametrize("pair", INVERSION_PAIRS)
def test_a_code_inverted_is_its_partner(pair):
    one, other = pair.split("/")
    assert tones.inverted(one) == other
    assert tones.inverted(other) == one


def test_the_pairs_are_all_104_codes():
    assert sorted(code for pair in INVERSION_PAIRS for code in pair.split("/")) == list(DCS_104)
    assert len(INVERSION_PAIRS) == 52


def test_in_the_set_of_83_only_172_lacks_its_inverse():
    assert [code for code in DCS_83 if tones.inverted(code) not in DCS_83] == ["172"]
    assert tones.inverted("172") == "036"


def test_023_is_also_340_and_766():
    assert tones.rotations("023") == ("023", "340", "766")


def test_no_two_codes_of_the_set_are_one_signal():
    for code in DCS_104:
        assert set(tones.rotations(code)) & set(DCS_104) == {code}


def test_inverting_twice_gives_the_same_signal_for_every_octal_code():
    for number in range(512):
        code = f"{number:03o}"
        for other in tones.inverses(code):
            assert code in tones.inverses(other)


@pytest.mark.parametrize("code", ["023", "23", 23, "D023", "d023n", " 023 "])
def test_a_code_is_read_as_people_write_it(code):
    assert tones.dcs(code) == "023"


@pytest.mark.parametrize(
    ("code", "sentence"),
    [
        ("645", "645 is not one of the 104 standard codes; it is the same signal as 526."),
        ("000", "000 is not one of the 104 standard codes; take one from the list"),
        ("D023I", "023 inverted is the same signal as 047; give 047."),
        ("028", "“028” is not an access code; one has three digits, 0 to 7"),
        ("", "“” is not an access code"),
        ("0231", "“0231” is not an access code"),
        ("٠٢٣", "is not an access code"),
    ],
)
def test_a_code_in_no_set_is_refused_with_a_sentence(code, sentence):
    with pytest.raises(ToneError, match=re.escape(sentence)):
        tones.dcs(code)
