"""A draft is made from the club's records."""

from __future__ import annotations

import datetime as dt

import pytest

from clubops.members.models import Member
from nets import schedule
from nets.models import Absence, Duty, Net, Refusal, RotaDraft, TurnWish
from nets.rota import draft as drafts
from nets.rota.problem import BACKUP, NET_CONTROL
from tests.conftest import NOW, Cast, make_member, make_station
from tests.rota.conftest import give, session_on

pytestmark = pytest.mark.django_db


def made(net: Net | None, **asked: object) -> RotaDraft:
    draft = drafts.ask(RotaDraft(net=net, **asked), by=None, now=NOW)
    assert drafts.work_out(draft, now=NOW)
    return draft


def taken(draft: RotaDraft) -> dict[tuple[dt.date, str], str]:
    rows = draft.turns.filter(member__isnull=False).select_related("session", "member")
    return {(turn.session.occurrence_date, turn.role): turn.member.call_sign for turn in rows}


def test_it_fills_both_chairs_of_twelve_weeks(net: Net, volunteers: dict[str, Member]) -> None:
    draft = made(net)
    assert draft.state == RotaDraft.State.READY
    assert draft.turns.count() == 24
    assert len(taken(draft)) == 24
    assert draft.is_proven


def test_nobody_sits_where_the_relay_does_not_hear_them(net: Net, unheard: Member) -> None:
    assert unheard.call_sign not in taken(made(net)).values()


def test_somebody_without_a_station_is_not_asked(net: Net, volunteers: dict[str, Member]) -> None:
    volunteers["third"].stations.all().delete()
    assert "QZ2TRD" not in taken(made(net)).values()


def test_days_away_are_kept_free_by_the_members_own_calendar(net: Net, volunteers: dict[str, Member]) -> None:
    """19:30 in New York on 3 March is 4 March in Auckland."""
    officer = volunteers["officer"]
    Member.objects.filter(pk=officer.pk).update(zone="Pacific/Auckland")
    day = dt.date(2026, 3, 4)
    Absence.objects.create(member=officer, first_date=day, last_date=day)
    draft = made(net, weeks=1)
    assert officer.call_sign not in taken(draft).values()


def test_a_newcomer_gets_an_experienced_backup(net: Net, volunteers: dict[str, Member]) -> None:
    chairs = taken(made(net))
    for (date, role), who in chairs.items():
        if role == NET_CONTROL and who == "QZ2NEW":
            assert chairs[date, BACKUP] != "QZ2NEW"
    assert "QZ2NEW" in chairs.values()


def test_confirmed_locked_and_overruled_turns_stay(
    net: Net, unheard: Member, volunteers: dict[str, Member]
) -> None:
    officer, control = volunteers["officer"], volunteers["control"]
    give(session_on(net, 3, 10), "net_control", officer, state=Duty.State.CONFIRMED)
    give(session_on(net, 3, 10), "backup", control, is_locked=True)
    give(
        session_on(net, 3, 17),
        "net_control",
        unheard,
        overrule_reason="From the clubhouse.",
        overruled_by=officer,
    )
    draft = made(net)
    chairs = taken(draft)
    assert chairs[dt.date(2026, 3, 10), NET_CONTROL] == officer.call_sign
    assert chairs[dt.date(2026, 3, 10), BACKUP] == control.call_sign
    assert chairs[dt.date(2026, 3, 17), NET_CONTROL] == unheard.call_sign
    assert draft.turns.filter(is_kept=True).count() == 3


def test_somebody_who_declined_is_not_asked_again(net: Net, volunteers: dict[str, Member]) -> None:
    control = volunteers["control"]
    give(session_on(net, 3, 10), "net_control", control, state=Duty.State.DECLINED)
    Refusal.objects.create(session=session_on(net, 3, 17), member=control)
    chairs = taken(made(net, minimum_gap_days=1))
    for date in (dt.date(2026, 3, 10), dt.date(2026, 3, 17)):
        assert control.call_sign not in {chairs[date, NET_CONTROL], chairs[date, BACKUP]}


def test_a_wish_for_fewer_turns_is_kept(net: Net, volunteers: dict[str, Member]) -> None:
    TurnWish.objects.create(member=volunteers["third"], most_turns=1, minimum_gap_days=28)
    chairs = taken(made(net))
    spring = [date for (date, _role), who in chairs.items() if who == "QZ2TRD" and date.month >= 4]
    assert len(spring) <= 1


def test_no_turn_at_all_may_be_wished(net: Net, volunteers: dict[str, Member]) -> None:
    TurnWish.objects.create(member=volunteers["third"], most_turns=0)
    assert "QZ2TRD" not in taken(made(net)).values()


def test_turns_in_other_nets_bind(net: Net, cast: Cast, volunteers: dict[str, Member]) -> None:
    """The same evening on another frequency: nobody can be in both."""
    other = Net.objects.create(
        name="Other Net",
        slug="other-net",
        simplex_mhz="146.550",
        first_date=dt.date(2026, 2, 10),
        start_time=dt.time(19, 30),
        zone="America/New_York",
    )
    schedule.plan_sessions(other, now=NOW)
    for role, who in (("net_control", "officer"), ("backup", "control")):
        give(session_on(other, 3, 10), role, volunteers[who])
    chairs = taken(made(net, minimum_gap_days=1))
    here = {chairs[dt.date(2026, 3, 10), role] for role in (NET_CONTROL, BACKUP)}
    assert here == {"QZ2TRD", "QZ2NEW"}


def test_a_rota_of_every_net_puts_nobody_in_two_places(net: Net, volunteers: dict[str, Member]) -> None:
    other = Net.objects.create(
        name="Other Net",
        slug="other-net",
        simplex_mhz="146.550",
        first_date=dt.date(2026, 2, 10),
        start_time=dt.time(19, 30),
        zone="America/New_York",
    )
    schedule.plan_sessions(other, now=NOW)
    draft = made(None, minimum_gap_days=1)
    turns = draft.turns.filter(member__isnull=False).values_list("session__starts_at", "member")
    assert len(turns) == len(set(turns)) == 48


def test_sessions_called_off_are_left_out(net: Net, volunteers: dict[str, Member]) -> None:
    schedule.call_off(session_on(net, 3, 10), note="Snow.")
    assert made(net).turns.count() == 22


def test_a_longer_horizon_plans_its_sessions(net: Net, volunteers: dict[str, Member]) -> None:
    assert made(net, weeks=26).turns.count() == 52


def test_recent_turns_count(net: Net, volunteers: dict[str, Member]) -> None:
    """Who ran three nets in the last weeks gets fewer of the next four."""
    for day in (10, 17, 24):
        start = dt.datetime(2026, 2, day + 1, 0, 30, tzinfo=dt.UTC)
        session = net.sessions.create(
            occurrence_date=dt.date(2026, 2, day), starts_at=start, ends_at=start + dt.timedelta(hours=1)
        )
        give(session, "net_control", volunteers["officer"])
    counts = list(taken(made(net, weeks=4)).values())
    assert counts.count("QZ2OFF") < counts.count("QZ2NCS")


def test_who_joined_lately_need_not_catch_up(net: Net, volunteers: dict[str, Member]) -> None:
    """The others carried two turns each before the new one came; the next twelve weeks are shared as usual."""
    for week, (who, beside) in enumerate(
        [("officer", "control"), ("control", "third"), ("third", "officer")], start=4
    ):
        start = NOW - dt.timedelta(weeks=week)
        session = net.sessions.create(
            occurrence_date=start.date(), starts_at=start, ends_at=start + dt.timedelta(hours=1)
        )
        give(session, "net_control", volunteers[who])
        give(session, "backup", volunteers[beside])
    Member.objects.filter(call_sign="QZ2NEW").update(joined_on=NOW.date())
    loads: dict[str, int] = {}
    for (_date, role), who in taken(made(net)).items():
        loads[who] = loads.get(who, 0) + (2 if role == NET_CONTROL else 1)
    assert max(loads.values()) - min(loads.values()) <= 1


def test_an_empty_chair_says_why(net: Net, unheard: Member, volunteers: dict[str, Member]) -> None:
    Member.objects.exclude(pk__in=[unheard.pk, volunteers["officer"].pk]).update(takes_the_chair=False)
    Member.objects.filter(call_sign="QZ2NCS").get().user.groups.clear()
    day = dt.date(2026, 3, 3)
    Absence.objects.create(member=volunteers["officer"], first_date=day, last_date=day + dt.timedelta(days=2))
    draft = made(net, weeks=1)
    reason = draft.turns.get(role="net_control").reason
    assert reason.startswith(
        "Nobody with a usable path is free on 3 March: QZ2OFF is away until 5 March; QZ2LOW "
    )
    assert "this net asks for" in reason


def test_only_one_worker_solves_a_draft(net: Net, volunteers: dict[str, Member]) -> None:
    draft = drafts.ask(RotaDraft(net=net), by=None, now=NOW)
    assert drafts.work_out(draft, now=NOW)
    assert not drafts.work_out(draft, now=NOW)


def test_a_draft_whose_worker_died_is_solved_after_its_lease(net: Net, volunteers: dict[str, Member]) -> None:
    draft = drafts.ask(RotaDraft(net=net), by=None, now=NOW, claimed=True)
    assert drafts.work_out_waiting(now=NOW + dt.timedelta(minutes=1)) == 0
    assert drafts.work_out_waiting(now=NOW + dt.timedelta(minutes=6)) == 1
    draft.refresh_from_db()
    assert draft.state == RotaDraft.State.READY


def test_a_draft_thrown_away_while_it_was_solved_stays_thrown_away(
    net: Net, volunteers: dict[str, Member]
) -> None:
    draft = drafts.ask(RotaDraft(net=net), by=None, now=NOW, claimed=True)
    assert drafts.discard(draft, by=None, now=NOW)
    drafts.solve_claimed(draft, now=NOW)
    assert draft.state == RotaDraft.State.DISCARDED
    assert not draft.turns.exists()


def test_a_small_club_waits_for_no_worker(net: Net, volunteers: dict[str, Member]) -> None:
    assert not drafts.is_long(RotaDraft(net=net, weeks=52))
    for index in range(40):
        make_station(make_member(f"QZ3A{chr(65 + index // 26)}{chr(65 + index % 26)}", takes_the_chair=True))
    assert drafts.is_long(RotaDraft(net=net, weeks=52))
