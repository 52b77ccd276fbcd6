"""Yes and no to a duty: what counts is the records of now, not the page somebody still has open."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from nets import duties
from nets.models import Absence, Duty, Session
from nets.reminders import answers
from tests.conftest import NOW, Cast

CONTROL = Duty.Role.NET_CONTROL
OVER = NOW + dt.timedelta(days=1)


@pytest.fixture
def duty(session: Session, cast: Cast) -> Duty:
    return Duty.objects.create(session=session, role=CONTROL, member=cast.net_control)


@pytest.fixture
def post(as_reader: Callable[[str], Client], duty: Duty) -> Callable[..., tuple[int, str]]:
    """Answers on My duties; the status, and what the next page says."""

    def go(said: str, at: dt.datetime = NOW) -> tuple[int, str]:
        with time_machine.travel(at, tick=False):
            address = reverse("nets:answer", args=[duty.pk])
            response = as_reader("net control").post(address, {"answer": said}, follow=True)
        return response.status_code, response.content.decode()

    return go


def refused(words: str) -> pytest.RaisesContext[duties.DutyRefused]:
    return pytest.raises(duties.DutyRefused, match=words)


def test_a_yes_after_the_turn_was_handed_over_is_refused(duty: Duty, session: Session, cast: Cast) -> None:
    Duty.objects.filter(pk=duty.pk).delete()
    Duty.objects.create(session=session, role=CONTROL, member=cast.officer)
    with refused("no longer yours"):
        duties.answer(duty, confirmed=True, now=NOW)
    assert session.duties.get().member == cast.officer


def test_a_yes_does_not_bring_back_a_chair_that_was_emptied(duty: Duty, session: Session) -> None:
    Duty.objects.filter(pk=duty.pk).delete()
    with refused("no longer yours"):
        duties.answer(duty, confirmed=True, now=NOW)
    assert not session.duties.exists()


def test_a_lock_set_meanwhile_stays(duty: Duty) -> None:
    Duty.objects.filter(pk=duty.pk).update(is_locked=True, sequence=4)
    assert duties.answer(duty, confirmed=True, now=NOW)
    duty.refresh_from_db()
    assert (duty.is_locked, duty.state, duty.sequence) == (True, Duty.State.CONFIRMED, 5)


def test_the_answer_given_elsewhere_meanwhile_is_seen(duty: Duty) -> None:
    duties.answer(Duty.objects.get(pk=duty.pk), confirmed=True, now=NOW)
    assert not duties.answer(duty, confirmed=True, now=OVER - dt.timedelta(hours=20))
    assert (duty.state, duty.answered_at) == (Duty.State.CONFIRMED, NOW)


@pytest.mark.parametrize("confirmed", [True, False])
def test_what_has_begun_is_history(duty: Duty, confirmed: bool) -> None:
    with refused("has begun or is over"):
        duties.answer(duty, confirmed=confirmed, now=duty.session.starts_at)
    duty.refresh_from_db()
    assert duty.state == Duty.State.ASSIGNED


def test_a_called_off_session_asks_for_no_answer(duty: Duty) -> None:
    Session.objects.update(state=Session.State.CANCELLED)
    with refused("called off"):
        duties.answer(duty, confirmed=True, now=NOW)


def test_a_net_switched_off_asks_for_no_answer(duty: Duty) -> None:
    duty.session.net.is_active = False
    duty.session.net.save()
    with refused("called off"):
        duties.answer(duty, confirmed=True, now=NOW)


def test_a_no_cannot_be_taken_back_by_somebody_who_is_away_by_now(
    duty: Duty, session: Session, cast: Cast
) -> None:
    duties.answer(duty, confirmed=False, now=NOW)
    Absence.objects.create(
        member=cast.net_control, first_date=session.occurrence_date, last_date=session.occurrence_date
    )
    with refused("is away"):
        duties.answer(duty, confirmed=True, now=NOW)


def test_the_page_says_why_there_is_nothing_to_answer(post: Callable[..., tuple[int, str]]) -> None:
    status, page = post("no", at=OVER)
    assert (status, "has begun or is over" in page) == (200, True)
    assert Duty.objects.get().state == Duty.State.ASSIGNED


@pytest.mark.parametrize("said", ["", "maybe", "YES"])
def test_only_a_plain_no_declines_on_the_page(post: Callable[..., tuple[int, str]], said: str) -> None:
    assert post(said) == (400, "Say yes or no.")
    assert Duty.objects.get().state == Duty.State.ASSIGNED


def by_link(duty: Duty, said: str) -> tuple[int, str]:
    address = reverse("nets:answer_by_link", args=[answers.url_for(duty).rstrip("/").rpartition("/")[2]])
    response = Client().post(address, {"answer": said})
    return response.status_code, response.content.decode()


@time_machine.travel(NOW, tick=False)
def test_only_a_plain_no_declines_by_link(duty: Duty) -> None:
    assert by_link(duty, "maybe") == (400, "Say yes or no.")
    assert by_link(duty, "no")[0] == 200
    assert Duty.objects.get().state == Duty.State.DECLINED


@time_machine.travel(NOW, tick=False)
def test_a_no_by_link_in_a_session_called_off_since_is_no_yes_any_more(duty: Duty) -> None:
    duties.answer(duty, confirmed=False, now=NOW)
    Session.objects.update(state=Session.State.CANCELLED)
    status, page = by_link(duty, "yes")
    assert (status, "called off" in page) == (410, True)
