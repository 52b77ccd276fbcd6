"""Predictions beside check-ins."""

from __future__ import annotations

import uuid
from itertools import pairwise
from typing import Any

import pytest

from nets import calibration
from nets.models import CheckIn, RollCall, Session
from relays.models import Relay
from tests.log.conftest import BY, ON_AIR


def heard(session: Session, call_sign: str, margin_db: float | None, **given: Any) -> CheckIn:
    values = {"via": "relay", "relay": session.relay_in_use, "predicted_probability": 0.9} | given
    return CheckIn.objects.create(
        key=uuid.uuid4(), session=session, call_sign=call_sign, heard_at=ON_AIR, received_at=ON_AIR,
        logged_by=BY, predicted_margin_db=margin_db, **values,
    )  # fmt: skip


def band(found: calibration.Calibration, words: str) -> calibration.Band:
    return next(each for each in found.bands if each.words.replace("\N{NO-BREAK SPACE}", " ") == words)


def test_the_bands_meet_without_a_gap() -> None:
    edges = calibration.EDGES_DB
    found = [calibration.Band(low, high) for low, high in pairwise(edges)]
    assert [each.words.replace("\N{NO-BREAK SPACE}", " ") for each in found] == [
        "below −10 dB", "−10 dB to 0 dB", "0 dB to +10 dB", "+10 dB to +20 dB", "+20 dB or more",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("margin_db", "words"),
    [(-10.01, "below −10 dB"), (-10.0, "−10 dB to 0 dB"), (0.0, "0 dB to +10 dB"), (20.0, "+20 dB or more")],
)
def test_a_margin_on_an_edge_belongs_to_the_band_above(
    session: Session, margin_db: float, words: str
) -> None:
    heard(session, "QZ2AAA", margin_db)
    assert band(calibration.calibration(session=session), words).heard == 1


def test_reports_are_counted_where_there_is_one(session: Session) -> None:
    heard(session, "QZ2AAA", 12, report="59")
    heard(session, "QZ2BBB", 12, report="33")
    heard(session, "QZ2CCC", 12, report="scratchy")
    found = band(calibration.calibration(session=session), "+10 dB to +20 dB")
    assert (found.heard, found.reported, found.readable) == (3, 2, 1)


def test_who_was_passed_on_was_not_heard_by_the_relay(session: Session) -> None:
    heard(session, "QZ2AAA", 5)
    heard(session, "QZ2BBB", 5, via="station", predicted_probability=0.5)
    found = band(calibration.calibration(session=session), "0 dB to +10 dB")
    assert (found.heard, found.through_another, found.transmitted) == (1, 1, 2)
    assert found.mean_probability == pytest.approx(0.7)


def test_silence_enters_no_share(session: Session) -> None:
    RollCall.objects.create(
        session=session, position=0, call_sign="QZ2AAA", state="no_answer", predicted_margin_db=25
    )
    found = band(calibration.calibration(session=session), "+20 dB or more")
    assert (found.no_answer, found.transmitted, found.share_heard) == (1, 0, None)


def test_who_answered_after_all_is_not_silent(session: Session) -> None:
    RollCall.objects.create(
        session=session, position=0, call_sign="QZ2AAA", state="no_answer", predicted_margin_db=25
    )
    heard(session, "QZ2AAA", 25)
    assert band(calibration.calibration(session=session), "+20 dB or more").no_answer == 0


def test_a_station_counts_once_a_session_and_struck_ones_never(session: Session) -> None:
    heard(session, "QZ2AAA", 5)
    heard(session, "QZ2AAA", 5)
    heard(session, "QZ2BBB", 5, is_struck=True)
    assert calibration.calibration(session=session).compared == 1


def test_few_are_called_few(session: Session) -> None:
    heard(session, "QZ2AAA", 5)
    heard(session, "QZ2BBB", None)
    found = calibration.calibration(session=session)
    assert found.sentence == (
        "1 check-in has a prediction beside it, 1 has none; that is too few to judge the predictions by."
    )
    assert band(found, "0 dB to +10 dB").sentence == "Only 1: too few to say anything."


def test_a_share_is_given_from_twenty_on(session: Session) -> None:
    for letter in "ABCDEFGHIJKLMNOPQRS":
        heard(session, f"QZ2AA{letter}", 5)
    assert band(calibration.calibration(session=session), "0 dB to +10 dB").share_heard is None
    heard(session, "QZ2AAT", 5, via="station")
    assert band(calibration.calibration(session=session), "0 dB to +10 dB").share_heard == pytest.approx(0.95)


def test_it_can_be_asked_of_a_net_or_a_relay(session: Session, relay: Relay) -> None:
    heard(session, "QZ2AAA", 5)
    other = Relay.objects.create(
        site=relay.site,
        name="Other",
        slug="other",
        call_sign="QZ2RLY",
        output_mhz="146.910",
        input_mhz="146.310",
    )
    assert calibration.calibration(net=session.net).compared == 1
    assert calibration.calibration(relay=relay).compared == 1
    assert calibration.calibration(relay=other).compared == 0


def test_with_nothing_to_compare_it_says_so(session: Session) -> None:
    assert calibration.calibration().sentence == "No check-in could be compared with a prediction yet."
