"""An offer whose maker no longer holds the turn is gone, and blocks nobody."""

from __future__ import annotations

import datetime as dt

import pytest

from clubops.members.models import Member
from nets import duties, schedule, swaps
from nets.models import Duty, Net, SwapOffer
from nets.swaps import SwapRefused
from tests.conftest import NOW, Cast
from tests.rota.conftest import give, held, session_on

pytestmark = pytest.mark.django_db

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def turn(net: Net, volunteers: dict[str, Member]) -> Duty:
    """The officer is net control on 10 March."""
    return give(session_on(net, 3, 10), "net_control", volunteers["officer"])


def seen_by(member: Member) -> int:
    return swaps.offers_for(member, now=NOW).count()


def test_a_turn_handed_over_is_no_longer_on_offer(turn: Duty, volunteers: dict[str, Member]) -> None:
    offer = swaps.offer(turn, now=NOW)
    swaps.hand_over(turn, volunteers["control"], now=NOW)
    offer.refresh_from_db()
    assert (offer.state, seen_by(volunteers["third"])) == (SwapOffer.State.WITHDRAWN, 0)


def test_the_new_holder_may_offer_it(turn: Duty, volunteers: dict[str, Member]) -> None:
    swaps.offer(turn, now=NOW)
    swaps.hand_over(turn, volunteers["control"], now=NOW)
    swaps.offer(turn.session.duties.get(), now=NOW)
    assert seen_by(volunteers["officer"]) == 1


def test_an_old_offer_left_open_is_in_nobodys_way(turn: Duty, volunteers: dict[str, Member]) -> None:
    """However the chair was given: here by the record itself."""
    swaps.offer(turn, now=NOW)
    turn.delete()
    assert seen_by(volunteers["third"]) == 0
    swaps.offer(give(turn.session, "net_control", volunteers["control"]), now=NOW)
    assert seen_by(volunteers["third"]) == 1


def test_an_offer_whose_time_is_over_is_in_nobodys_way(turn: Duty) -> None:
    """Before the task that closes it has run."""
    swaps.offer(turn, expires_at=NOW + HOUR, now=NOW)
    swaps.offer(turn, now=NOW + 2 * HOUR)
    assert sorted(SwapOffer.objects.values_list("state", flat=True)) == ["expired", "open"]


def test_declining_ends_the_offer(turn: Duty, volunteers: dict[str, Member]) -> None:
    offer = swaps.offer(turn, now=NOW)
    duties.answer(turn, confirmed=False, now=NOW)
    offer.refresh_from_db()
    assert (offer.state, seen_by(volunteers["third"])) == (SwapOffer.State.WITHDRAWN, 0)


def test_confirming_leaves_the_offer(turn: Duty, volunteers: dict[str, Member]) -> None:
    swaps.offer(turn, now=NOW)
    duties.answer(turn, confirmed=True, now=NOW)
    assert seen_by(volunteers["third"]) == 1


def test_a_called_off_session_hides_it_until_it_is_put_back(
    turn: Duty, volunteers: dict[str, Member]
) -> None:
    swaps.offer(turn, now=NOW)
    schedule.call_off(turn.session, note="Storm warning")
    assert seen_by(volunteers["third"]) == 0
    schedule.restore(turn.session)
    assert seen_by(volunteers["third"]) == 1


def test_an_exchange_ends_when_the_turn_in_return_is_given_away(
    net: Net, turn: Duty, volunteers: dict[str, Member]
) -> None:
    back = give(session_on(net, 3, 17), "backup", volunteers["third"])
    offer = swaps.offer(turn, to=volunteers["third"], in_return=back, now=NOW)
    swaps.hand_over(back, volunteers["control"], now=NOW)
    offer.refresh_from_db()
    assert (offer.state, seen_by(volunteers["third"])) == (SwapOffer.State.WITHDRAWN, 0)


def test_who_does_not_take_the_chair_takes_no_turn(
    net: Net, turn: Duty, cast: Cast, volunteers: dict[str, Member]
) -> None:
    give(turn.session, "backup", volunteers["third"])
    offer = swaps.offer(turn, now=NOW)
    assert seen_by(cast.member) == 0
    with pytest.raises(SwapRefused, match="QZ2MEM is not down as taking the chair"):
        swaps.accept(offer, by=cast.member, now=NOW)
    assert held(net)[dt.date(2026, 3, 10), "net_control"] == "QZ2OFF"
