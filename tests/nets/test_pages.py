"""The pages of the nets: plain words, the right people, nothing half-saved."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from nets import duties, schedule
from nets.models import Absence, Duty, FeedKey, Session
from tests.conftest import DEEP_HOLLOW, NOW, Cast, make_station

Browser = Callable[[str], Client]


@pytest.fixture(autouse=True)
def frozen() -> object:
    with time_machine.travel(NOW, tick=False):
        yield


def text(client: Client, name: str, *args: object) -> str:
    response = client.get(reverse(name, args=args))
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def test_home_shows_tonight_in_local_time_and_utc(session: Session, client: Client) -> None:
    page = text(client, "nets:home")
    assert "Ridge Net" in page
    assert "19:30 New York time" in page.replace("\xa0", " ")
    assert "00:30 UTC Wednesday" in page.replace("\xa0", " ")


def test_home_names_the_people_by_call_sign_only(session: Session, cast: Cast, client: Client) -> None:
    Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    page = text(client, "nets:home")
    assert "Net control: QZ2NCS" in page
    assert cast.net_control.name not in page


def test_a_declined_chair_is_wanted_again(session: Session, cast: Cast, client: Client) -> None:
    Duty.objects.create(
        session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control, state=Duty.State.DECLINED
    )
    assert "Net control: wanted" in text(client, "nets:home")


def test_an_empty_week_says_what_to_do_next(client: Client, db: None) -> None:
    assert "Nothing meets in the coming seven days." in text(client, "nets:home")


def test_a_called_off_session_says_so_and_why(session: Session, client: Client) -> None:
    schedule.call_off(session, note="Ice on the hill.")
    page = text(client, "nets:home")
    assert "Called off." in page
    assert "Ice on the hill." in page


def test_the_net_page_says_when_in_words(session: Session, client: Client) -> None:
    assert "every Tuesday at 19:30" in text(client, "nets:page", "ridge-net")


@pytest.mark.parametrize("date", ["yesterday", "2026-13-01", "2026-03-04"])
def test_a_date_without_a_session_is_not_found(date: str, session: Session, as_reader: Browser) -> None:
    assert as_reader("member").get(f"/nets/ridge-net/{date}/").status_code == 404


def test_a_refused_chair_keeps_what_was_chosen_and_says_the_margin(
    session: Session, ground: object, cast: Cast, as_reader: Browser
) -> None:
    station = make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors")
    address = reverse("nets:chair", args=["ridge-net", "2026-03-03", "net_control"])
    response = as_reader("net manager").post(address, {"member": cast.net_control.pk, "station": station.pk})
    page = response.content.decode()
    assert response.status_code == 422
    assert "QZ2NCS cannot be put in the chair" in page
    assert f'value="{cast.net_control.pk}" selected' in page
    assert not Duty.objects.exists()


def test_an_officer_overrules_on_the_same_form(
    session: Session, ground: object, cast: Cast, as_reader: Browser
) -> None:
    make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors")
    address = reverse("nets:chair", args=["ridge-net", "2026-03-03", "net_control"])
    data = {"member": cast.net_control.pk, "overrule_reason": "Will drive up to the lookout."}
    assert as_reader("officer").post(address, data).status_code == 302
    page = text(as_reader("member"), "nets:session", "ridge-net", "2026-03-03")
    assert "Overruled by QZ2OFF: Will drive up to the lookout." in page


def test_a_net_manager_cannot_overrule(
    session: Session, ground: object, cast: Cast, as_reader: Browser
) -> None:
    make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors")
    address = reverse("nets:chair", args=["ridge-net", "2026-03-03", "net_control"])
    data = {"member": cast.net_control.pk, "overrule_reason": "I am sure it works."}
    assert as_reader("net manager").post(address, data).status_code == 422


def test_the_session_page_shows_the_verdict_with_its_margin(
    session: Session, ground: object, cast: Cast, as_reader: Browser
) -> None:
    station = make_station(cast.net_control)
    duties.assign(duties.Chair(session, Duty.Role.NET_CONTROL, cast.net_control, station), now=NOW)
    page = text(as_reader("member"), "nets:session", "ridge-net", "2026-03-03")
    assert "Margin of the weaker direction" in page
    assert "Why this verdict" in page


def test_a_member_confirms_on_their_own_page(session: Session, cast: Cast, as_reader: Browser) -> None:
    duty = Duty.objects.create(session=session, role=Duty.Role.BACKUP, member=cast.member)
    as_reader("member").post(reverse("nets:answer", args=[duty.pk]), {"answer": "yes"})
    assert "backup control</b>: confirmed" in text(as_reader("member"), "nets:my_duties")


def test_a_get_never_answers(session: Session, cast: Cast, as_reader: Browser) -> None:
    duty = Duty.objects.create(session=session, role=Duty.Role.BACKUP, member=cast.member)
    assert as_reader("member").get(reverse("nets:answer", args=[duty.pk])).status_code == 405


def test_days_away_that_end_before_they_begin_are_refused_with_both_dates(as_reader: Browser) -> None:
    response = as_reader("member").post(
        reverse("nets:my_duties"), {"first_date": "2026-03-10", "last_date": "2026-03-09"}
    )
    page = response.content.decode()
    assert "2026-03-09 is before the first day 2026-03-10" in page
    assert 'value="2026-03-10"' in page
    assert not Absence.objects.exists()


def test_days_away_are_added_and_removed(cast: Cast, as_reader: Browser) -> None:
    browser = as_reader("member")
    browser.post(reverse("nets:my_duties"), {"first_date": "2026-03-10", "last_date": "2026-03-12"})
    absence = Absence.objects.get()
    assert (absence.member, absence.last_date) == (cast.member, dt.date(2026, 3, 12))
    browser.post(reverse("nets:remove_absence", args=[absence.pk]))
    assert not Absence.objects.exists()


def test_a_new_calendar_address_switches_the_old_one_off(cast: Cast, as_reader: Browser) -> None:
    browser = as_reader("member")
    for _ in range(2):
        browser.post(reverse("nets:new_calendar_address"))
    assert FeedKey.objects.filter(revoked_at=None).count() == 1
    assert FeedKey.objects.count() == 2
    browser.post(reverse("nets:new_calendar_address"), {"revoke": "yes"})
    assert not FeedKey.objects.filter(revoked_at=None).exists()
