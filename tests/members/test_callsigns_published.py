"""Call signs against the ITU Radio Regulations, Article 19 (as revised in 2007), and Appendix 42.

Nobody's call sign is used: most begin with Q; where a series that exists is needed it is one of the World
Meteorological Organization (C7) or of the International Civil Aviation Organization (4Y), or a form that no
country issues (one letter with four after the digit; N and a letter with three, which the FCC leaves out).
"""

import re

import pytest

from clubops.members import callsigns
from clubops.members.callsigns import CallSignError

# text, well formed, allocatable
TABLE = [
    # Invented ones: the shape is right and no country has Q
    ("QZ2AAA", True, False),
    ("QX9TST", True, False),
    # No. 19.68: one of B F G I K M N R W and a digit
    *((f"{letter}2AAAA", True, True) for letter in "BFGIKMNRW"),
    *((f"{letter}2AAAA", False, False) for letter in "ACDEHJLOPQSTUVXYZ"),
    # No. 19.68: two characters and a digit; up to four more, the last a letter
    ("QZ2A", True, False),
    ("QZ2AAAA", True, False),
    ("QZ2AAAAA", False, False),
    ("QZ2A2B", True, False),
    ("QZ2AA2", False, False),
    ("QZ2", False, False),
    ("NA2AAA", True, True),
    # No. 19.50: letter and digit, digit and letter, not two digits
    ("C72AA", True, True),
    ("4Y2AA", True, True),
    ("222AA", False, False),
    # No. 19.69: 0 and 1 may separate
    ("C70AA", True, True),
    ("C71AA", True, True),
    # Appendix 42: 0x, 1x, x0 and x1 are nobody's, unless the first letter alone is the series
    ("0A2AA", True, False),
    ("1A2AA", True, False),
    ("A02AA", True, False),
    ("A12AA", True, False),
    ("B12AA", True, True),
    # No. 19.68.1: a half series has three characters and at most three after the digit
    ("3DA2AAA", True, True),
    ("3DA2AAAA", False, False),
    ("SSA2AA", True, True),
    ("QZA2AA", False, False),
    # Nos. 19.47 and 19.48: distress signal and Q code
    ("C72SOS", True, False),
    ("C72QRA", True, False),
    ("C72QUZ", True, False),
    ("C72QAA", True, True),
    # No. 19.45: no accented letters
    ("ÄA2AA", False, False),
    ("", False, False),
    ("2", False, False),
    ("HELLO", False, False),
]


@pytest.mark.parametrize(("text", "well_formed", "allocatable"), TABLE)
def test_shape_and_allocation_are_two_answers(text, well_formed, allocatable):
    assert callsigns.is_well_formed(text) is well_formed
    assert callsigns.is_allocatable(text) is allocatable


@pytest.mark.parametrize(
    "text",
    [
        "qz2aaa",
        " QZ2 AAA ",
        "QZ2AAA/P",
        "qz2aaa/m",
        "QZ2AAA/MM",
        "QZ2AAA/4",
        "QZ2AAA slant P",
        "QZ2AAA stroke mobile",
        "qz2aaa slash portable",
        "F/QZ2AAA/P",
        "C72A/QZ2AAA",
        "ＱＺ２ＡＡＡ",
    ],
)
def test_portable_marks_spaces_and_case_do_not_matter(text):
    # 47 CFR 97.119(c) allows a slant, stroke or slash and an indicator before or after the call sign
    assert callsigns.normalise(text) == "QZ2AAA"


def test_a_slashed_zero_is_a_zero():
    assert callsigns.normalise("qzøaaa") == "QZ0AAA"


def test_normalising_twice_changes_nothing():
    once = callsigns.normalise("f/qz2aaa stroke p")
    assert callsigns.normalise(once) == once


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "“” is no call sign"),
        ("  ", "“” is no call sign"),
        ("/", "“/” is no call sign"),
        ("HELLO", "“HELLO” has no digit"),
        ("12345", "“12345” has no letter"),
        ("QZ2AA2", "“QZ2AA2” ends in a digit"),
        ("22QAA", "“22QAA” begins with two digits"),
        ("QZ2AAAAA", "“QZ2AAAAA” does not have the shape"),
        ("QZ2-AAA", "“QZ2-AAA” has the character “-”"),
        ("QZ2ÄAA", "has the character “Ä”"),
        ("QZ٢AAA", "has the character “٢”"),
    ],
)
def test_it_says_what_is_wrong_and_what_would_be_right(text, sentence):
    with pytest.raises(CallSignError, match=re.escape(sentence)) as caught:
        callsigns.normalise(text)
    assert str(caught.value).endswith("such as QZ2AAA.")
    assert caught.value.text == text


def test_a_special_event_may_have_a_longer_suffix():
    # No. 19.68A
    assert callsigns.normalise("qz2jubilee", special_event=True) == "QZ2JUBILEE"
    assert not callsigns.is_well_formed("QZ2JUBILEE")


def test_it_says_why_nobody_has_a_call_sign():
    assert "begin with QZ" in callsigns.why_not_allocatable("QZ2AAA")
    assert callsigns.why_not_allocatable("C72SOS").startswith("SOS has a meaning of its own")
    assert callsigns.why_not_allocatable("C72AA") == ""
    with pytest.raises(CallSignError):
        callsigns.why_not_allocatable("HELLO")
