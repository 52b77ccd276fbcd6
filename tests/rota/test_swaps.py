"""Members offer turns to each other and take them."""

from __future__ import annotations

import datetime as dt

import pytest

from clubops.members.models import Member
from nets import swaps
from nets.models import Absence, Duty, Net, SwapOffer, TurnWish
from nets.swaps import SwapRefused
from tests.conftest import NOW
from tests.rota.conftest import give, held, session_on

pytestmark = pytest.mark.django_db

LATER = NOW + dt.timedelta(days=2)


@pytest.fixture
def turn(net: Net, volunteers: dict[str, Member]) -> Duty:
    """The officer is net control on 10 March."""
    return give(session_on(net, 3, 10), "net_control", volunteers["officer"])


@pytest.fixture
def other_turn(net: Net, volunteers: dict[str, Member]) -> Duty:
    """The third is backup on 17 March."""
    return give(session_on(net, 3, 17), "backup", volunteers["third"])


def refused(words: str) -> pytest.RaisesContext[SwapRefused]:
    return pytest.raises(SwapRefused, match=words)


# Offering ------------------------------------------------------------------------------------------


def test_an_offer_is_open_until_the_session_begins(turn: Duty) -> None:
    offer = swaps.offer(turn, now=NOW)
    assert offer.expires_at == turn.session.starts_at
    assert offer.is_open(NOW)
    assert not offer.is_open(turn.session.starts_at)


def test_it_refuses_a_swap_with_oneself(turn: Duty) -> None:
    with refused("to yourself"):
        swaps.offer(turn, to=turn.member, now=NOW)


def test_it_refuses_a_second_offer_of_the_same_turn(turn: Duty) -> None:
    swaps.offer(turn, now=NOW)
    with refused("on offer already"):
        swaps.offer(turn, now=NOW)


def test_a_withdrawn_offer_makes_room_for_another(turn: Duty) -> None:
    swaps.withdraw(swaps.offer(turn, now=NOW), by=turn.member, now=NOW)
    swaps.offer(turn, now=NOW)
    assert swaps.open_offers(now=NOW).count() == 1


def test_it_refuses_to_offer_a_turn_that_is_over(turn: Duty) -> None:
    with refused("still ahead"):
        swaps.offer(turn, now=turn.session.starts_at)


def test_it_refuses_to_offer_a_declined_turn(turn: Duty) -> None:
    turn.state = Duty.State.DECLINED
    with refused("declined this turn already"):
        swaps.offer(turn, now=NOW)


def test_a_turn_in_return_belongs_to_whoever_is_asked(turn: Duty, other_turn: Duty) -> None:
    with refused("choose the person first"):
        swaps.offer(turn, in_return=other_turn, now=NOW)


def test_it_refuses_an_offer_that_ends_before_it_begins(turn: Duty) -> None:
    with refused("choose a later time"):
        swaps.offer(turn, expires_at=NOW, now=NOW)


def test_others_see_an_offer_to_anybody_and_its_maker_does_not(
    turn: Duty, volunteers: dict[str, Member]
) -> None:
    swaps.offer(turn, now=NOW)
    assert swaps.offers_for(volunteers["third"], now=NOW).count() == 1
    assert swaps.offers_for(turn.member, now=NOW).count() == 0


def test_an_offer_to_one_person_is_seen_by_nobody_else(turn: Duty, volunteers: dict[str, Member]) -> None:
    swaps.offer(turn, to=volunteers["third"], now=NOW)
    assert swaps.offers_for(volunteers["third"], now=NOW).count() == 1
    assert swaps.offers_for(volunteers["control"], now=NOW).count() == 0


# Taking --------------------------------------------------------------------------------------------


def test_taking_a_turn_moves_it_and_confirms_it(net: Net, turn: Duty, volunteers: dict[str, Member]) -> None:
    offer = swaps.accept(swaps.offer(turn, now=NOW), by=volunteers["third"], now=LATER)
    duty = Duty.objects.get()
    assert (duty.member, duty.state, duty.station) == (
        volunteers["third"],
        Duty.State.CONFIRMED,
        volunteers["third"].stations.get(),
    )
    assert (offer.state, offer.taken_by, offer.settled_at) == ("accepted", volunteers["third"], LATER)


def test_an_exchange_moves_both_turns(
    net: Net, turn: Duty, other_turn: Duty, volunteers: dict[str, Member]
) -> None:
    offer = swaps.offer(turn, to=other_turn.member, in_return=other_turn, now=NOW)
    swaps.accept(offer, by=volunteers["third"], now=NOW)
    assert held(net) == {
        (dt.date(2026, 3, 10), "net_control"): "QZ2TRD",
        (dt.date(2026, 3, 17), "backup"): "QZ2OFF",
    }


def test_an_exchange_within_one_session_swaps_the_chairs(
    net: Net, turn: Duty, volunteers: dict[str, Member]
) -> None:
    beside = give(turn.session, "backup", volunteers["third"])
    swaps.accept(swaps.offer(turn, to=beside.member, in_return=beside, now=NOW), by=beside.member, now=NOW)
    assert held(net) == {
        (dt.date(2026, 3, 10), "net_control"): "QZ2TRD",
        (dt.date(2026, 3, 10), "backup"): "QZ2OFF",
    }


def test_it_refuses_a_taker_whom_the_relay_does_not_hear(turn: Duty, unheard: Member) -> None:
    with refused("QZ2LOW cannot be put in the chair: the path"):
        swaps.accept(swaps.offer(turn, now=NOW), by=unheard, now=NOW)


def test_it_refuses_an_exchange_whose_other_half_has_no_path(
    net: Net, turn: Duty, other_turn: Duty, volunteers: dict[str, Member]
) -> None:
    """The giver's station went weak since they were given the turn."""
    volunteers["officer"].stations.update(power_w=0.001, sensitivity_uv=100.0)
    offer = swaps.offer(turn, to=other_turn.member, in_return=other_turn, now=NOW)
    with refused("QZ2OFF cannot be put in the chair: the path"):
        swaps.accept(offer, by=other_turn.member, now=NOW)
    assert held(net) == {
        (dt.date(2026, 3, 10), "net_control"): "QZ2OFF",
        (dt.date(2026, 3, 17), "backup"): "QZ2TRD",
    }


def test_a_refused_taking_leaves_the_offer_open(
    turn: Duty, unheard: Member, volunteers: dict[str, Member]
) -> None:
    offer = swaps.offer(turn, now=NOW)
    with refused("cannot be put in the chair"):
        swaps.accept(offer, by=unheard, now=NOW)
    swaps.accept(SwapOffer.objects.get(), by=volunteers["third"], now=NOW)


def test_it_refuses_a_taker_who_is_away(turn: Duty, volunteers: dict[str, Member]) -> None:
    day = turn.session.occurrence_date
    Absence.objects.create(member=volunteers["third"], first_date=day, last_date=day)
    with refused("QZ2TRD is away"):
        swaps.accept(swaps.offer(turn, now=NOW), by=volunteers["third"], now=NOW)


def test_it_refuses_a_taker_who_sits_in_the_other_chair(turn: Duty, volunteers: dict[str, Member]) -> None:
    give(turn.session, "backup", volunteers["third"])
    with refused("QZ2TRD takes the other chair"):
        swaps.accept(swaps.offer(turn, now=NOW), by=volunteers["third"], now=NOW)


def test_it_refuses_a_newcomer_without_an_experienced_backup(
    turn: Duty, volunteers: dict[str, Member]
) -> None:
    with refused("QZ2NEW is new to the chair"):
        swaps.accept(swaps.offer(turn, now=NOW), by=volunteers["newcomer"], now=NOW)
    give(turn.session, "backup", volunteers["third"])
    swaps.accept(SwapOffer.objects.get(), by=volunteers["newcomer"], now=NOW)


def test_it_refuses_to_leave_a_newcomer_with_a_newcomer(net: Net, volunteers: dict[str, Member]) -> None:
    """The experienced backup gives their chair to another newcomer."""
    evening = session_on(net, 3, 10)
    give(evening, "net_control", volunteers["newcomer"])
    backup = give(evening, "backup", volunteers["third"])
    Member.objects.filter(pk=volunteers["control"].pk).update(is_experienced=False)
    with refused("is new to the chair and so is net control"):
        swaps.accept(swaps.offer(backup, now=NOW), by=volunteers["control"], now=NOW)


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({"minimum_gap_days": 14}, "has a turn on 17 March and asks for 14 days between turns"),
        ({"most_turns": 1}, "has 1 turn from January to March and asked for no more than 1"),
    ],
)
def test_it_keeps_the_wishes_of_the_taker(
    turn: Duty, other_turn: Duty, volunteers: dict[str, Member], wish: dict[str, int], words: str
) -> None:
    TurnWish.objects.create(member=volunteers["third"], **wish)
    with refused(words):
        swaps.accept(swaps.offer(turn, now=NOW), by=volunteers["third"], now=NOW)


def test_only_the_person_asked_may_take_it(turn: Duty, volunteers: dict[str, Member]) -> None:
    offer = swaps.offer(turn, to=volunteers["third"], now=NOW)
    with refused("somebody else"):
        swaps.accept(offer, by=volunteers["control"], now=NOW)


def test_nobody_takes_their_own_offer(turn: Duty) -> None:
    with refused("your own offer"):
        swaps.accept(swaps.offer(turn, now=NOW), by=turn.member, now=NOW)


def test_the_second_to_accept_is_told_who_was_first(turn: Duty, volunteers: dict[str, Member]) -> None:
    offer = swaps.offer(turn, now=NOW)
    stale = SwapOffer.objects.get()
    swaps.accept(offer, by=volunteers["third"], now=NOW)
    with refused("QZ2TRD was first"):
        swaps.accept(stale, by=volunteers["control"], now=NOW)


def test_an_expired_offer_is_not_taken(turn: Duty, volunteers: dict[str, Member]) -> None:
    offer = swaps.offer(turn, expires_at=NOW + dt.timedelta(hours=1), now=NOW)
    with refused("no longer open"):
        swaps.accept(offer, by=volunteers["third"], now=LATER)


def test_a_turn_given_to_somebody_else_meanwhile_is_not_taken(
    turn: Duty, volunteers: dict[str, Member]
) -> None:
    offer = swaps.offer(turn, now=NOW)
    turn.delete()
    give(turn.session, "net_control", volunteers["control"])
    with refused("QZ2OFF no longer holds that turn"):
        swaps.accept(offer, by=volunteers["third"], now=NOW)


def test_an_offer_outlives_a_row_written_anew(turn: Duty, volunteers: dict[str, Member]) -> None:
    offer = swaps.offer(turn, now=NOW)
    turn.delete()
    give(turn.session, "net_control", volunteers["officer"])
    assert swaps.accept(offer, by=volunteers["third"], now=NOW).taken_by == volunteers["third"]


# Ending --------------------------------------------------------------------------------------------


def test_only_its_maker_withdraws_an_offer(turn: Duty, volunteers: dict[str, Member]) -> None:
    with refused("Only the person who made"):
        swaps.withdraw(swaps.offer(turn, now=NOW), by=volunteers["third"], now=NOW)


def test_only_the_person_asked_declines(turn: Duty, volunteers: dict[str, Member]) -> None:
    offer = swaps.offer(turn, to=volunteers["third"], now=NOW)
    with refused("not made to you"):
        swaps.decline(offer, by=volunteers["control"], now=NOW)
    swaps.decline(offer, by=volunteers["third"], now=NOW)
    with refused("This offer was declined"):
        swaps.accept(SwapOffer.objects.get(), by=volunteers["third"], now=NOW)


def test_a_taken_offer_cannot_be_withdrawn(turn: Duty, volunteers: dict[str, Member]) -> None:
    offer = swaps.accept(swaps.offer(turn, now=NOW), by=volunteers["third"], now=NOW)
    with refused("QZ2TRD was first"):
        swaps.withdraw(offer, by=turn.member, now=NOW)


def test_expiring_closes_what_is_over_and_nothing_else(turn: Duty, other_turn: Duty) -> None:
    swaps.offer(turn, expires_at=NOW + dt.timedelta(hours=1), now=NOW)
    swaps.offer(other_turn, now=NOW)
    assert swaps.expire(now=LATER) == 1
    assert list(SwapOffer.objects.order_by("session").values_list("state", flat=True)) == ["expired", "open"]


# Stand-ins -----------------------------------------------------------------------------------------


def test_free_people_come_first_and_the_others_say_what_is_in_the_way(
    turn: Duty, unheard: Member, volunteers: dict[str, Member]
) -> None:
    day = turn.session.occurrence_date
    Absence.objects.create(member=volunteers["third"], first_date=day, last_date=day)
    found = swaps.substitutes(turn, now=NOW)
    assert [each.member.call_sign for each in found if each.is_able] == ["QZ2NCS"]
    why = {each.member.call_sign: each.why for each in found}
    assert why["QZ2TRD"] == "QZ2TRD is away until 10 March."
    assert why["QZ2NEW"].startswith("QZ2NEW is new to the chair and there is no experienced backup")
    assert "below the +6.0 dB this net asks for" in why["QZ2LOW"]
    assert why["QZ2NCS"].startswith("QZ2NCS is free; the path is solid, margin +")


def test_among_equal_paths_the_one_with_fewer_turns_comes_first(
    turn: Duty, net: Net, volunteers: dict[str, Member]
) -> None:
    for day in (17, 24, 31):
        give(session_on(net, 3, day), "net_control", volunteers["control"])
    found = [each.member.call_sign for each in swaps.substitutes(turn, now=NOW) if each.is_able]
    assert found.index("QZ2TRD") < found.index("QZ2NCS")


def test_the_holder_is_not_their_own_stand_in(turn: Duty) -> None:
    assert turn.member not in [each.member for each in swaps.substitutes(turn, now=NOW)]
