"""Who hears of an offer, and who is not asked in vain."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clubops.members.models import Member
from clubops.notices import kinds
from clubops.notices.models import Notice
from nets import duties, swap_letters, swaps
from nets.models import Absence, Duty, Net, SwapOffer
from tests.conftest import NOW
from tests.rota.conftest import give, session_on

pytestmark = pytest.mark.django_db

LATER = NOW + dt.timedelta(hours=2)


@pytest.fixture
def turn(net: Net, volunteers: dict[str, Member]) -> Duty:
    """The net control is net control on 10 March."""
    return give(session_on(net, 3, 10), "net_control", volunteers["control"])


def written(now: dt.datetime = LATER) -> kinds.Letter:
    notice = Notice.objects.get(kind=swap_letters.NOT_TAKEN)
    return kinds.named(notice.kind).render(notice, now)


def test_the_maker_hears_of_a_no(turn: Duty, volunteers: dict[str, Member]) -> None:
    swaps.decline(swaps.offer(turn, to=volunteers["third"], now=NOW), by=volunteers["third"], now=LATER)
    assert written().lines[0] == "QZ2TRD cannot take the turn you offered."
    assert Notice.objects.get(kind=swap_letters.NOT_TAKEN).recipient == volunteers["control"]


def test_the_maker_hears_that_the_time_is_over(turn: Duty) -> None:
    swaps.offer(turn, expires_at=LATER, now=NOW)
    assert (swaps.expire(now=LATER), swaps.expire(now=LATER)) == (1, 0)
    assert written().lines[0].startswith("Nobody has taken the turn you offered")


def test_an_offer_that_ends_with_its_session_is_told_to_nobody(turn: Duty) -> None:
    swaps.offer(turn, now=NOW)
    assert swaps.expire(now=turn.session.starts_at) == 1
    assert not Notice.objects.filter(kind=swap_letters.NOT_TAKEN).exists()


def test_the_letter_is_not_sent_once_it_is_on_offer_again(turn: Duty, volunteers: dict[str, Member]) -> None:
    swaps.decline(swaps.offer(turn, to=volunteers["third"], now=NOW), by=volunteers["third"], now=NOW)
    swaps.offer(turn, now=NOW)
    with pytest.raises(kinds.Untrue, match="on offer again"):
        written()


def test_nor_to_somebody_who_gave_the_turn_up(turn: Duty, volunteers: dict[str, Member]) -> None:
    swaps.decline(swaps.offer(turn, to=volunteers["third"], now=NOW), by=volunteers["third"], now=NOW)
    duties.answer(turn, confirmed=False, now=NOW)
    with pytest.raises(kinds.Untrue, match="no longer theirs"):
        written()


@time_machine.travel(NOW, tick=False)
def test_my_duties_says_how_many_turns_are_on_offer(
    turn: Duty, volunteers: dict[str, Member], as_reader: Callable[[str], Client]
) -> None:
    swaps.offer(turn, now=NOW)
    address = reverse("nets:my_duties")
    assert "1 turn is on offer to you" in as_reader("officer").get(address).content.decode()
    assert "on offer to you" not in as_reader("net control").get(address).content.decode()


def ask(turn: Duty, whom: Member, as_reader: Callable[[str], Client], **more: str) -> tuple[int, str]:
    with time_machine.travel(NOW, tick=False):
        address = reverse("nets:swap_offer", args=[turn.pk])
        response = as_reader("net control").post(address, {"to": str(whom.pk)} | more)
    return response.status_code, response.content.decode()


def test_somebody_the_relay_does_not_hear_is_not_asked(
    turn: Duty, unheard: Member, as_reader: Callable[[str], Client]
) -> None:
    status, page = ask(turn, unheard, as_reader)
    assert status == 422
    assert "QZ2LOW has a margin of" in page
    assert "Ask somebody else." in page
    assert not SwapOffer.objects.exists()


def test_somebody_who_is_away_is_not_asked(
    turn: Duty, volunteers: dict[str, Member], as_reader: Callable[[str], Client]
) -> None:
    day = turn.session.occurrence_date
    Absence.objects.create(member=volunteers["third"], first_date=day, last_date=day)
    assert "QZ2TRD is away until 10 March. Ask somebody else." in ask(turn, volunteers["third"], as_reader)[1]


def test_an_exchange_of_the_two_chairs_of_one_evening_may_be_asked_for(
    turn: Duty, volunteers: dict[str, Member], as_reader: Callable[[str], Client]
) -> None:
    beside = give(turn.session, "backup", volunteers["third"])
    assert ask(turn, volunteers["third"], as_reader, in_return=str(beside.pk))[0] == 302
