"""A draft becomes the rota in one go, or not at all."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from clubops.members.models import Member
from nets import duties, schedule
from nets.models import Absence, Duty, Net, Refusal, RotaDraft
from nets.rota import draft as drafts
from nets.rota import publishing
from nets.rota.publishing import PublishRefused
from tests.conftest import DEEP_HOLLOW, NOW, Cast, make_member, make_station
from tests.rota.conftest import give, held, session_on

pytestmark = pytest.mark.django_db


@pytest.fixture
def draft(net: Net, volunteers: dict[str, Member]) -> RotaDraft:
    return worked_out(net)


def worked_out(net: Net | None, **asked: object) -> RotaDraft:
    draft = drafts.ask(RotaDraft(net=net, **asked), by=None, now=NOW)
    drafts.work_out(draft, now=NOW)
    return draft


def test_every_turn_of_the_draft_becomes_a_duty(net: Net, draft: RotaDraft, cast: Cast) -> None:
    assert publishing.publish(draft, by=cast.manager, now=NOW)
    wanted = {(t.session.occurrence_date, t.role): t.member.call_sign for t in draft.turns.all()}
    assert held(net) == wanted
    assert Duty.objects.filter(station__isnull=True).count() == 0
    draft.refresh_from_db()
    assert (draft.state, draft.settled_by) == (RotaDraft.State.PUBLISHED, cast.manager)


def test_publishing_twice_changes_nothing(net: Net, draft: RotaDraft) -> None:
    publishing.publish(draft, by=None, now=NOW)
    before = list(Duty.objects.values_list("pk", "sequence", "changed_at"))
    assert not publishing.publish(draft, by=None, now=NOW)
    assert list(Duty.objects.values_list("pk", "sequence", "changed_at")) == before


def test_a_rota_made_again_at_once_changes_nobody(net: Net, draft: RotaDraft) -> None:
    publishing.publish(draft, by=None, now=NOW)
    again = publishing.compare(worked_out(net))
    assert again.changes_nothing
    assert again.count("same") == 24


def test_turns_that_stay_keep_their_rows(net: Net, draft: RotaDraft) -> None:
    """A row written anew would lose its place in people's calendars."""
    publishing.publish(draft, by=None, now=NOW)
    before = dict(Duty.objects.values_list("pk", "member__call_sign"))
    away = dt.date(2026, 3, 10)
    who = Duty.objects.get(session=session_on(net, 3, 10), role="net_control").member
    Absence.objects.create(member=who, first_date=away, last_date=away)
    again = worked_out(net)
    compared = publishing.compare(again)
    publishing.publish(again, by=None, now=NOW)
    after = dict(Duty.objects.values_list("pk", "member__call_sign"))
    assert len(before.keys() & after.keys()) == 24 - compared.count("changed")
    assert compared.count("changed") <= 4


def seat(draft: RotaDraft, **people: Member) -> None:
    """Write people into the chairs of a draft of one session."""
    for role, member in people.items():
        draft.turns.filter(role=role).update(member=member, station=member.stations.get())


def test_two_people_may_swap_chairs_of_one_session(net: Net, volunteers: dict[str, Member]) -> None:
    """Neither chair can be given before the other is free."""
    evening = session_on(net, 3, 3)
    newcomer, officer = volunteers["newcomer"], volunteers["officer"]
    draft = worked_out(net, weeks=1)
    seat(draft, net_control=newcomer, backup=officer)
    publishing.publish(draft, by=None, now=NOW)
    second = worked_out(net, weeks=1)
    seat(second, net_control=officer, backup=newcomer)
    publishing.publish(second, by=None, now=NOW)
    assert held(net) == {
        (evening.occurrence_date, "net_control"): officer.call_sign,
        (evening.occurrence_date, "backup"): newcomer.call_sign,
    }


def test_a_chair_that_nobody_may_keep_is_emptied(net: Net, volunteers: dict[str, Member]) -> None:
    give(session_on(net, 3, 3), "net_control", volunteers["officer"])
    for member in volunteers.values():
        Absence.objects.create(member=member, first_date=NOW.date(), last_date=NOW.date())
    draft = worked_out(net, weeks=1)
    assert publishing.compare(draft).counts["emptied"] == 1
    publishing.publish(draft, by=None, now=NOW)
    assert not held(net)


def test_a_refusal_outlives_the_declined_turn(net: Net, volunteers: dict[str, Member]) -> None:
    evening = session_on(net, 3, 3)
    declined = give(evening, "net_control", volunteers["officer"], state=Duty.State.DECLINED)
    publishing.publish(worked_out(net, weeks=1), by=None, now=NOW)
    assert not Duty.objects.filter(pk=declined.pk).exists()
    assert Refusal.objects.get().member == volunteers["officer"]


# The world moves on --------------------------------------------------------------------------------


def refused(draft: RotaDraft, *, now: dt.datetime = NOW) -> tuple[str, ...]:
    with pytest.raises(PublishRefused) as refusal:
        publishing.publish(draft, by=None, now=now)
    assert not Duty.objects.exists()
    draft.refresh_from_db()
    assert draft.state == RotaDraft.State.READY
    return refusal.value.sentences


def test_it_refuses_when_a_session_moved(net: Net, draft: RotaDraft) -> None:
    session = session_on(net, 3, 10)
    session.moved_to = session.starts_at + dt.timedelta(days=1)
    schedule.amend(session)
    assert refused(draft) == ("Ridge Net on 10 March has been moved to another time.",)


def test_it_refuses_when_a_session_was_called_off(net: Net, draft: RotaDraft) -> None:
    schedule.call_off(session_on(net, 3, 10), note="Snow.")
    assert refused(draft) == ("Ridge Net on 10 March has begun, was called off or is no longer planned.",)


def test_it_refuses_when_a_session_has_begun(draft: RotaDraft) -> None:
    assert refused(draft, now=NOW + dt.timedelta(days=1)) == (
        "Ridge Net on 3 March has begun, was called off or is no longer planned.",
    )


def test_it_refuses_when_somebody_is_away_now(draft: RotaDraft, volunteers: dict[str, Member]) -> None:
    day = dt.date(2026, 3, 10)
    Absence.objects.create(member=volunteers["officer"], first_date=day, last_date=day)
    assert refused(draft) == ("QZ2OFF is away until 10 March (Ridge Net on 10 March).",)


def test_it_refuses_when_a_station_moved_out_of_reach(
    draft: RotaDraft, volunteers: dict[str, Member]
) -> None:
    station = volunteers["officer"].stations.get()
    station.latitude_deg, station.longitude_deg = DEEP_HOLLOW
    station.power_w = 0.1
    station.save()
    sentences = refused(draft)
    assert len(sentences) == 12
    assert all("QZ2OFF has a margin of" in sentence for sentence in sentences)


def test_it_refuses_when_a_wish_changed(draft: RotaDraft, volunteers: dict[str, Member]) -> None:
    Member.objects.filter(pk=volunteers["officer"].pk).update(willingness=3)
    assert refused(draft) == ("The shares, experience or wishes of QZ2OFF have changed.",)


def test_it_refuses_when_somebody_new_takes_the_chair(draft: RotaDraft) -> None:
    make_station(make_member("QZ2JOI", takes_the_chair=True))
    assert refused(draft) == ("QZ2JOI can be asked now and could not before.",)


def test_it_refuses_when_a_chair_was_given_meanwhile(
    net: Net, draft: RotaDraft, volunteers: dict[str, Member]
) -> None:
    officer = volunteers["officer"]
    duties.assign(
        duties.Chair(session_on(net, 3, 10), "net_control", officer, officer.stations.get()), now=NOW
    )
    with pytest.raises(PublishRefused) as refusal:
        publishing.publish(draft, by=None, now=NOW)
    assert refusal.value.sentences == ("QZ2OFF has been made net control of Ridge Net on 10 March.",)
    assert Duty.objects.count() == 1


def test_it_refuses_when_a_turn_was_confirmed_meanwhile(net: Net, draft: RotaDraft) -> None:
    publishing.publish(draft, by=None, now=NOW)
    again = worked_out(net)
    duty = Duty.objects.get(session=session_on(net, 3, 10), role="net_control")
    duties.answer(duty, confirmed=True, now=NOW)
    with pytest.raises(
        PublishRefused, match="has confirmed or been locked as net control of Ridge Net on 10 March"
    ):
        publishing.publish(again, by=None, now=NOW)


def test_all_or_nothing_when_a_turn_is_refused_half_way(
    draft: RotaDraft, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = []
    assign = duties.assign

    def failing(chair: duties.Chair, **rest: object) -> Duty:
        given.append(chair)
        if len(given) == 10:
            raise duties.DutyRefused("The tenth is refused.")
        return assign(chair, **rest)

    monkeypatch.setattr(duties, "assign", failing)
    assert refused(draft) == ("The tenth is refused.",)


def test_a_path_worked_out_again_with_the_same_verdict_is_no_change(
    draft: RotaDraft, volunteers: dict[str, Member]
) -> None:
    volunteers["officer"].stations.update(name="house")
    volunteers["officer"].stations.get().path_verdicts.all().delete()
    assert publishing.publish(draft, by=None, now=NOW)


def test_a_draft_thrown_away_is_not_published(draft: RotaDraft) -> None:
    drafts.discard(draft, by=None, now=NOW)
    with pytest.raises(PublishRefused, match="This draft is discarded"):
        publishing.publish(draft, by=None, now=NOW)


def test_the_facts_survive_their_storage(draft: RotaDraft) -> None:
    """JSON turns tuples into lists and keys into text; neither may look like a change."""
    world = drafts.world_of(draft, now=NOW)
    assert publishing.facts.changes(draft.facts, world) == []
    assert publishing.facts.changes(draft.facts, replace(world, bars=())) == []


# At one stroke -------------------------------------------------------------------------------------


def test_fill_fills_the_empty_chairs_and_moves_nobody(net: Net, volunteers: dict[str, Member]) -> None:
    first = give(session_on(net, 3, 3), "net_control", volunteers["third"])
    filled = publishing.fill(net, now=NOW)
    assert (filled.filled, filled.empty) == (23, ())
    assert Duty.objects.filter(pk=first.pk, sequence=first.sequence).exists()


def test_fill_is_idempotent(net: Net, volunteers: dict[str, Member]) -> None:
    publishing.fill(now=NOW)
    before = list(Duty.objects.values_list("pk", "sequence"))
    assert publishing.fill(now=NOW) == publishing.Filled(0, ())
    assert list(Duty.objects.values_list("pk", "sequence")) == before
    assert RotaDraft.objects.count() == 1


def test_fill_says_why_a_chair_stays_empty(net: Net, unheard: Member) -> None:
    Member.objects.exclude(pk=unheard.pk).update(takes_the_chair=False)
    Member.objects.get(call_sign="QZ2NCS").user.groups.clear()
    filled = publishing.fill(net, now=NOW, weeks=1)
    assert filled.filled == 0
    assert len(filled.empty) == 2
    assert filled.empty[0].startswith("Nobody who takes the chair has a usable path on 3 March: QZ2LOW has")
