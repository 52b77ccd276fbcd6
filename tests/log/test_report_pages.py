"""Report, files to take away, and statistics as pages."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from nets.models import Net, Session, SessionLog
from relays import paths
from tests.conftest import Cast, make_station
from tests.log.conftest import ON_AIR, Log, heard_in, minutes

REPORT = "/nets/ridge-net/2026-03-03/report/"


@pytest.fixture
def member(as_reader: Callable[[str], Client]) -> Client:
    return as_reader("member")


def text(client: Client, address: str = REPORT) -> str:
    return client.get(address).content.decode()


def test_the_report_gives_figures_paths_and_the_log(
    member: Client, closed: Callable[[], SessionLog], log: Log
) -> None:
    log("QX7TAB", name="Tabea", traffic="welfare", via="link", via_note="room 7")
    closed()
    page = text(member)
    for words in (
        "1 welfare",
        "link (room 7)",
        "Tabea",
        "first time",
        "43\N{NO-BREAK SPACE}minutes",
        "QZ2NCS",
    ):
        assert words in page


def test_a_correction_after_closing_stands_on_it(
    member: Client, closed: Callable[[], SessionLog], log: Log
) -> None:
    closed()
    log("QX7LAT", at=minutes(50))
    page = text(member)
    assert 'added <span class="call-sign">QX7LAT</span>' in page
    assert "stations 0, now 1" in page


def test_an_open_session_says_that_figures_still_change(member: Client, opened: SessionLog) -> None:
    assert "not closed yet" in text(member)


def test_without_a_log_there_is_nothing_to_report(member: Client, session: Session) -> None:
    assert "No log was kept" in text(member)


def test_predictions_stand_beside_what_was_heard(
    member: Client, session: Session, log: Log, cast: Cast, ground: object, opened: SessionLog
) -> None:
    paths.refresh(make_station(cast.member), session.relay_in_use, now=ON_AIR)
    log("QZ2MEM", report="59")
    page = text(member)
    assert "1 check-in has a prediction beside it" in page
    assert "too few" in page


@pytest.mark.parametrize(
    ("kind", "content_type", "words"),
    [
        ("adi", "text/plain; charset=us-ascii", b"<CALL:6>QX7TAB"),
        ("adx", "application/xml", b"<CALL>QX7TAB</CALL>"),
        ("csv", "text/csv; charset=utf-8", b"QX7TAB,Tabea"),
    ],
)
def test_the_log_can_be_taken_away(
    member: Client, session: Session, log: Log, kind: str, content_type: str, words: bytes
) -> None:
    log("QX7TAB", name="Tabea")
    answer = member.get(f"{REPORT}log.{kind}")
    assert answer["Content-Type"] == content_type
    assert answer["Content-Disposition"] == f'attachment; filename="ridge-net-2026-03-03.{kind}"'
    assert words in answer.content


def test_another_kind_of_file_is_not_found(member: Client, session: Session) -> None:
    assert member.get(f"{REPORT}log.exe").status_code == 404


def test_the_communications_log_takes_an_incident(member: Client, opened: SessionLog) -> None:
    page = text(member, f"{REPORT}comms-log/?incident=Flood+7")
    assert "Flood 7" in page
    assert "1 of 1" in page


def test_statistics_say_the_same_in_drawing_and_table(
    member: Client, net: Net, earlier: Callable[[int], Session]
) -> None:
    heard_in(earlier(2), "QZ2OFF", "QX7TAB")
    heard_in(earlier(1), "QZ2OFF")
    page = text(member, "/nets/ridge-net/statistics/")
    assert page.count('<rect class="members"') >= 2
    assert page.count('<rect class="visitors"') == 1
    assert "1.5 stations on average over 2 sessions" in page


def test_a_net_without_logs_says_so(member: Client, net: Net) -> None:
    assert "No session of this net has been logged yet" in text(member, "/nets/ridge-net/statistics/")


def test_the_statistics_page_does_not_ask_once_a_session(
    member: Client,
    net: Net,
    earlier: Callable[[int], Session],
    django_assert_max_num_queries: Callable[[int], object],
) -> None:
    for weeks in range(1, 11):
        heard_in(earlier(weeks), "QZ2OFF", "QX7TAB", "QZ2MEM")
    with django_assert_max_num_queries(25):
        member.get("/nets/ridge-net/statistics/")


def test_no_home_position_is_on_any_of_them(
    member: Client, session: Session, log: Log, cast: Cast, ground: object, opened: SessionLog
) -> None:
    """Digits that occur nowhere else."""
    paths.refresh(
        make_station(cast.net_control, (36.57021734, -84.11018273)), session.relay_in_use, now=ON_AIR
    )
    log("QZ2NCS")
    log("QX7TAB")
    addresses = [REPORT, f"{REPORT}comms-log/", "/nets/ridge-net/statistics/"]
    addresses += [f"{REPORT}log.{kind}" for kind in ("adi", "adx", "csv")]
    for address in addresses:
        page = text(member, address)
        assert not any(trace in page for trace in ("36.57", "84.11")), address
