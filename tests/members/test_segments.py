"""What an invented class may send: the whole signal inside, the stricter of two stretches, unknown where empty."""

from __future__ import annotations

from decimal import Decimal

import pytest

from clubops.members.segments import Operation, Segment, Signal, Verdict, in_words, judge, overlaps, trouble

LOW = Segment(Decimal("144"), Decimal("145"), 100.0)
HIGH = Segment(Decimal("145"), Decimal("146"), 10.0, Operation.ALONE)
HALF = Decimal("0.008")


def on(mhz: str, power_w: float | None = 5.0, needs: int = Operation.ALONE, *rows: Segment) -> Verdict:
    return judge("class Fern", rows or (HIGH, LOW), Signal(Decimal(mhz), HALF, power_w), needs)


@pytest.mark.parametrize(
    ("mhz", "answer", "fault"),
    [
        ("144.500", "allowed", ""),
        ("144.008", "allowed", ""),
        ("144.0079", "refused", "edge"),
        ("145.992", "allowed", ""),
        ("145.9921", "refused", "edge"),
        ("146.000", "refused", "edge"),
        ("146.100", "refused", "frequency"),
        ("143.900", "refused", "frequency"),
    ],
)
def test_the_whole_signal_must_lie_inside(mhz: str, answer: str, fault: str) -> None:
    found = on(mhz)
    assert (found.answer, found.fault) == (answer, fault)


@pytest.mark.parametrize(
    ("mhz", "most_w"), [("144.992", 100), ("144.9921", 10), ("145.000", 10), ("145.008", 10)]
)
def test_across_a_shared_edge_the_stricter_stretch_holds(mhz: str, most_w: float) -> None:
    assert on(mhz).most_power_w == most_w


def test_a_gap_between_stretches_is_not_bridged() -> None:
    rows = (LOW, Segment(Decimal("145.001"), Decimal("146")))
    assert on("145.000", 5.0, Operation.ALONE, *rows).fault == "edge"


def test_power_at_the_limit_is_allowed_and_above_it_is_not() -> None:
    assert on("145.500", 10.0).is_allowed
    found = on("145.500", 50.0)
    assert (found.fault, found.most_power_w) == ("power", 10.0)
    assert found.words == (
        "may send with at most 10 W on 145.500 MHz with class Fern, and the station has 50 W"
    )


def test_power_that_is_not_asked_about_stops_nobody() -> None:
    assert on("145.500", None).is_allowed


def test_a_class_that_may_operate_alone_may_not_be_net_control() -> None:
    found = on("145.500", 5.0, Operation.CHAIR)
    assert found.fault == "operation"
    assert found.words.startswith("may not be net control on 145.500 MHz with class Fern")
    assert on("144.500", 5.0, Operation.CHAIR).is_allowed


def test_an_empty_table_is_unknown_and_no_ban() -> None:
    found = judge("class Fern", (), Signal(Decimal("145.5"), HALF, 5.0), Operation.CHAIR)
    assert (found.answer, found.is_refused) == ("unknown", False)
    assert found.yours == "hold class Fern, for which the club has no table of privileges"


def test_it_says_where_the_class_may_send() -> None:
    assert on("433.500").words == (
        "may not send on 433.500 MHz with class Fern, which allows 144.000 to 146.000 MHz"
    )


def test_a_gap_is_told_as_two_stretches() -> None:
    far = Segment(Decimal("430"), Decimal("440.0125"))
    assert in_words([far, LOW]) == "144.000 to 145.000 MHz and 430.000 to 440.0125 MHz"


@pytest.mark.parametrize(
    ("low", "high", "power_w", "sentence"),
    [
        ("146", "144", None, "the lower edge comes first"),
        ("144", "144", None, "the lower edge comes first"),
        ("-144", "146", None, "is no frequency"),
        ("0", "146", None, "is no frequency"),
        ("144", "146", -5.0, "-5 W is no power"),
        ("144", "146", 0.0, "0 W is no power"),
    ],
)
def test_it_says_what_is_wrong_with_a_stretch(
    low: str, high: str, power_w: float | None, sentence: str
) -> None:
    assert sentence in trouble(Segment(Decimal(low), Decimal(high), power_w))


def test_a_stretch_in_order_has_no_trouble() -> None:
    assert trouble(LOW) == ""


def test_stretches_may_touch_but_not_lie_over_each_other() -> None:
    assert overlaps([HIGH, LOW]) == []
    (sentence,) = overlaps([LOW, Segment(Decimal("144.9"), Decimal("146"))])
    assert sentence.startswith("144.000 to 145.000 MHz and 144.900 to 146.000 MHz lie over each other")
