"""Nobody is put, swapped or found a stand-in for a chair that their licence does not allow."""

from __future__ import annotations

import datetime as dt

import pytest

from clubops.clock import Span
from clubops.members.models import Member
from clubops.members.segments import Operation
from nets import conflicts, swaps
from nets.models import Duty, Net
from nets.rota import facts, publishing, reasons, world
from tests.conftest import NOW
from tests.members.test_privileges import a_class
from tests.rota.conftest import give, held, session_on

LOWER = ("144", "146", None, Operation.CHAIR)
UPPER = ("146", "148", None, Operation.CHAIR)
WEAK = ("144", "148", 10.0, Operation.CHAIR)


def limit(member: Member, *rows: tuple[str, str, float | None, int], name: str = "Fern") -> None:
    member.licence_class = a_class(name, *rows)
    member.save()


def gathered(net: Net) -> world.World:
    return world.gather([net], Span(NOW, NOW + dt.timedelta(weeks=4)), world.Terms(), now=NOW)


def test_the_rota_offers_nobody_beyond_their_licence(net: Net, volunteers: dict[str, Member]) -> None:
    limit(volunteers["control"], LOWER)
    limit(volunteers["third"], UPPER, name="Summit")
    found = gathered(net)
    assert {offer.person for offer in found.problem.offers} == {"QZ2OFF", "QZ2TRD", "QZ2NEW"}
    assert {(bar.person, bar.kind) for bar in found.bars} == {("QZ2NCS", "licence")}


def test_nobody_is_offered_after_their_licence_has_run_out(net: Net, volunteers: dict[str, Member]) -> None:
    """Sessions are on the 3rd, 10th, 17th and 24th of March; the licence lasts until the 10th."""
    volunteers["control"].licence_expires_on = dt.date(2026, 3, 10)
    volunteers["control"].save()
    found = gathered(net)
    offered = {offer.session for offer in found.problem.offers if offer.person == "QZ2NCS"}
    assert sorted(str(found.sessions[key].occurrence_date) for key in offered) == ["2026-03-03", "2026-03-10"]
    assert {bar.words for bar in found.bars} == {"has a licence that, by the roster, has run out by then"}


def test_a_confirmed_turn_stays_and_is_left_to_the_conflicts(net: Net, volunteers: dict[str, Member]) -> None:
    """No rota moves what was agreed; the page of conflicts names it instead."""
    give(session_on(net, 3, 10), "net_control", volunteers["control"], state=Duty.State.CONFIRMED)
    limit(volunteers["control"], LOWER)
    assert [turn.person for turn in gathered(net).problem.kept] == ["QZ2NCS"]
    assert [each.kind for each in conflicts.coming(now=NOW)] == ["beyond the licence"]


def test_a_class_without_a_table_is_offered_all_the_same(net: Net, volunteers: dict[str, Member]) -> None:
    limit(volunteers["control"])
    assert gathered(net).bars == ()


def test_the_rota_that_is_made_has_only_licensed_people(net: Net, volunteers: dict[str, Member]) -> None:
    limit(volunteers["control"], LOWER)
    publishing.fill(now=NOW)
    assert held(net)
    assert "QZ2NCS" not in held(net).values()


def test_an_empty_chair_names_the_licence(net: Net, volunteers: dict[str, Member]) -> None:
    for member in volunteers.values():
        limit(member, LOWER, name=member.call_sign)
    found = gathered(net)
    seat = found.problem.seats[0]
    told = reasons.sentence(seat, reasons.obstacles(found.problem, (), found.bars, seat))
    assert told.startswith("Nobody who takes the chair has both the licence and the path on 3 March: ")
    assert "QZ2NCS may not send on 146.130 MHz with licence class QZ2NCS" in told


def test_too_much_power_comes_with_a_way_out(net: Net, volunteers: dict[str, Member]) -> None:
    limit(volunteers["control"], WEAK)
    (bar,) = {bar.remedy for bar in gathered(net).bars}
    assert bar == "may take it with the station turned down to 10 W, if the path then holds"


def test_those_not_named_are_counted_by_their_licence() -> None:
    found = [reasons.Obstacle(f"QZ3{letter * 3}", "licence", "may not") for letter in "ABCDEF"]
    assert reasons._counted(found[4:]) == "; 2 more have no licence for it"


def test_a_draft_notices_that_a_class_was_changed(net: Net, volunteers: dict[str, Member]) -> None:
    before = facts.facts_of(gathered(net))
    limit(volunteers["control"], LOWER)
    changed = facts.changes(before, gathered(net))
    assert changed
    assert all(each.startswith("QZ2NCS may not send on 146.130 MHz") for each in changed)


def test_a_swap_beyond_the_licence_is_refused(net: Net, volunteers: dict[str, Member]) -> None:
    limit(volunteers["third"], LOWER)
    offer = swaps.offer(give(session_on(net, 3, 10), "net_control", volunteers["control"]), now=NOW)
    with pytest.raises(swaps.SwapRefused, match=r"QZ2TRD may not send on 146\.130 MHz"):
        swaps.accept(offer, by=volunteers["third"], now=NOW)
    assert Duty.objects.get().member == volunteers["control"]


def test_a_turn_in_return_is_checked_too(net: Net, volunteers: dict[str, Member]) -> None:
    """The one who offers would take the other's turn: their licence counts as well."""
    mine = give(session_on(net, 3, 10), "net_control", volunteers["control"])
    theirs = give(session_on(net, 3, 17), "net_control", volunteers["third"])
    offer = swaps.offer(mine, to=volunteers["third"], in_return=theirs, now=NOW)
    limit(volunteers["control"], LOWER)
    with pytest.raises(swaps.SwapRefused, match="QZ2NCS may not send"):
        swaps.accept(offer, by=volunteers["third"], now=NOW)
    assert {duty.member.call_sign for duty in Duty.objects.all()} == {"QZ2NCS", "QZ2TRD"}


def test_a_stand_in_without_the_licence_is_last_and_says_why(net: Net, volunteers: dict[str, Member]) -> None:
    limit(volunteers["third"], LOWER)
    duty = give(session_on(net, 3, 10), "net_control", volunteers["control"])
    found = {each.member.call_sign: each for each in swaps.substitutes(duty, now=NOW)}
    assert not found["QZ2TRD"].is_able
    assert found["QZ2TRD"].why.startswith("QZ2TRD may not send on 146.130 MHz with licence class Fern")
    with pytest.raises(swaps.SwapRefused, match="may not send"):
        swaps.hand_over(duty, volunteers["third"], now=NOW)
