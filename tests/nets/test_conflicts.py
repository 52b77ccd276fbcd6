"""Conflicts are found in rules and in what was changed by hand; each names both sides and a way out."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from clubops.members.models import Member
from nets import conflicts, duties, schedule
from nets.conflicts import Clash, Conflict, Meeting
from nets.models import Absence, Duty, Net, Session
from relays import paths
from relays.models import Relay
from tests.conftest import DEEP_HOLLOW, NOW, Cast, make_station

pytestmark = pytest.mark.django_db


def twin(relay: Relay, name: str, **fields: Any) -> Relay:
    row = Relay.objects.get(pk=relay.pk)
    row.pk, row.name, row.slug = None, name, name.lower().replace(" ", "-")
    for field, value in fields.items():
        setattr(row, field, value)
    row.save()
    return row


def another(relay: Relay | None, start: str = "20:00", name: str = "Valley Net", **fields: Any) -> Net:
    """A second net on the same Tuesdays, half an hour into the first."""
    values = {"rule": "FREQ=WEEKLY;BYDAY=TU", "first_date": dt.date(2026, 3, 3)} | fields
    return Net(
        name=name,
        slug=name.lower().replace(" ", "-"),
        relay=relay,
        start_time=dt.time.fromisoformat(start),
        **({"simplex_mhz": None} | values),
    )


def clash(net: Net) -> str:
    """What the form of the net would say, or nothing."""
    try:
        with transaction.atomic():
            conflicts.require_net_free(net, schedule.rules_of(net), now=NOW)
    except Clash as found:
        return str(found)
    return ""


def planned(*nets: Net) -> list[Session]:
    for net in nets:
        net.save()
        schedule.plan_sessions(net, now=NOW)
    return list(Session.objects.filter(net__in=nets).order_by("starts_at"))


def kinds(found: list[Conflict]) -> list[str]:
    return [each.kind for each in found]


# Two nets on one channel ---------------------------------------------------------------------------


def test_two_nets_on_one_relay_are_both_named_with_the_first_time_and_a_way_out(
    net: Net, relay: Relay
) -> None:
    assert clash(another(relay)) == (
        "Valley Net and Ridge Net would both be on Ridge 2 m on Tuesday 3 March 2026 at 20:00 New York time. "
        "Choose another hour or another place on the air for one of them."
    )


@pytest.mark.parametrize(
    ("start", "clashes"), [("18:29", False), ("18:31", True), ("20:29", True), ("20:30", False)]
)
def test_nets_that_only_touch_do_not_clash(net: Net, relay: Relay, start: str, clashes: bool) -> None:
    """The one lasts from 19:30 to 20:30, the other an hour too, but for the minute before it."""
    other = another(relay, start)
    other.duration_min = 61 if start < "19:00" else 60
    assert bool(clash(other)) == clashes


def test_relays_linked_over_a_third_carry_one_audio(net: Net, relay: Relay) -> None:
    middle, far = twin(relay, "Middle"), twin(relay, "Far")
    relay.linked_to.add(middle)
    middle.linked_to.add(far)
    assert "since Ridge 2 m is linked to Far and carries its audio" in clash(another(far))


def test_an_unlinked_relay_is_free(net: Net, relay: Relay) -> None:
    assert clash(another(twin(relay, "Far"))) == ""


def test_one_simplex_frequency_holds_one_net(net: Net) -> None:
    planned(another(None, "19:45", "First", simplex_mhz="146.55"))
    assert "would both be on 146.550 MHz simplex" in clash(
        another(None, name="Second", simplex_mhz=Decimal("146.5500"))
    )
    assert clash(another(None, name="Third", simplex_mhz=Decimal("146.520"))) == ""


def test_rules_that_meet_once_in_a_while_are_found_out(net: Net, relay: Relay) -> None:
    """The 15th of a month is a Tuesday first in September 2026 (calendar)."""
    monthly = another(relay, rule="FREQ=MONTHLY;BYMONTHDAY=15")
    assert "on Tuesday 15 September 2026" in clash(monthly)


def test_a_net_by_another_clock_clashes_for_some_weeks_only(net: Net, relay: Relay) -> None:
    """00:30 in London is 19:30 in New York but in the weeks when only one of them has summer time."""
    london = another(relay, "00:30", zone="Europe/London", rule="FREQ=WEEKLY;BYDAY=WE", duration_min=30)
    assert "on Wednesday 4 March 2026 at 00:30 London time" in clash(london)
    london.first_date, london.ends_on = dt.date(2026, 3, 9), dt.date(2026, 3, 28)
    assert clash(london) == ""  # 20:30 in New York, when the other net is over


def test_a_net_that_is_switched_off_is_in_nobodys_way(net: Net, relay: Relay) -> None:
    net.is_active = False
    net.save()
    assert clash(another(relay)) == ""


def test_a_session_moved_by_hand_is_where_it_was_moved_to(net: Net, session: Session, relay: Relay) -> None:
    session.moved_to = dt.datetime(2026, 3, 5, 1, tzinfo=dt.UTC)
    schedule.amend(session)
    wednesdays = another(relay, rule="FREQ=WEEKLY;BYDAY=WE", ends_on=dt.date(2026, 3, 4))
    assert "on Wednesday 4 March 2026" in clash(wednesdays)
    assert clash(another(relay, ends_on=dt.date(2026, 3, 3))) == ""


def test_a_session_called_off_leaves_its_place_free(net: Net, session: Session, relay: Relay) -> None:
    schedule.call_off(session, note="Storm.")
    assert clash(another(relay, ends_on=dt.date(2026, 3, 3))) == ""


def test_another_relay_tonight_counts(net: Net, session: Session, relay: Relay) -> None:
    far = twin(relay, "Far")
    session.relay = far
    schedule.amend(session)
    assert "would both be on Far on Tuesday 3 March 2026" in clash(another(far))
    assert "on Tuesday 10 March 2026" in clash(another(relay))


def test_a_net_may_not_meet_twice_at_once(net: Net, session: Session) -> None:
    later = net.sessions.get(occurrence_date=dt.date(2026, 3, 10))
    later.starts_at = session.starts_at + dt.timedelta(minutes=30)
    later.ends_at = later.starts_at + net.duration
    with transaction.atomic(), pytest.raises(Clash, match="twice at once") as refused:
        conflicts.require_free(Meeting.of(later), now=NOW)
    assert "session of 10 March 2026 and as the session of 3 March 2026" in str(refused.value)


def test_it_wants_a_transaction_to_hold_the_lock(net: Net, db: None) -> None:
    before = connection.in_atomic_block
    connection.in_atomic_block = False
    try:
        with pytest.raises(transaction.TransactionManagementError):
            schedule.lock()
    finally:
        connection.in_atomic_block = before


# The page ------------------------------------------------------------------------------------------


def test_a_club_without_trouble_has_no_conflict(
    net: Net, session: Session, cast: Cast, ground: object
) -> None:
    make_station(cast.net_control)
    chair = duties.Chair(
        session, Duty.Role.NET_CONTROL, cast.net_control, duties.station_for(cast.net_control)
    )
    duties.assign(chair, now=NOW)
    assert conflicts.coming(now=NOW) == []


def test_two_nets_are_one_conflict_however_often_they_meet(net: Net, relay: Relay) -> None:
    planned(net, another(relay))
    (found,) = conflicts.coming(now=NOW)
    assert (found.kind, found.times, set(found.sides)) == (
        "two nets at once",
        12,
        {"Ridge Net", "Valley Net"},
    )
    assert [each.occurrence_date for each in found.sessions] == [dt.date(2026, 3, 3)] * 2


def seat(session: Session, member: Member, role: str = Duty.Role.NET_CONTROL, **fields: Any) -> Duty:
    return Duty.objects.create(session=session, member=member, role=role, **fields)


def test_a_person_in_two_chairs_is_named_with_both(net: Net, relay: Relay, cast: Cast) -> None:
    planned(net, another(None, simplex_mhz="146.550"))
    for session in Session.objects.filter(occurrence_date=dt.date(2026, 3, 3)):
        seat(
            session, cast.net_control, station=make_station(cast.net_control) if session.net == net else None
        )
    found = [each for each in conflicts.coming(now=NOW) if each.kind == "one person in two chairs"]
    assert [each.sides for each in found] == [
        ("QZ2NCS, net control of Ridge Net", "net control of Valley Net")
    ]


def test_chairs_one_after_the_other_are_no_conflict(net: Net, cast: Cast) -> None:
    planned(net, another(None, "20:30", simplex_mhz="146.550"))
    for session in Session.objects.filter(occurrence_date=dt.date(2026, 3, 3)):
        seat(session, cast.net_control)
    assert "one person in two chairs" not in kinds(conflicts.coming(now=NOW))


def test_a_declined_duty_is_no_chair(net: Net, session: Session, cast: Cast) -> None:
    seat(session, cast.net_control, state=Duty.State.DECLINED)
    assert conflicts.coming(now=NOW) == []


def test_who_is_away_by_their_own_calendar_is_named(session: Session, cast: Cast) -> None:
    """00:30 UTC on the 4th is still the 3rd in New York."""
    seat(session, cast.net_control)
    Absence.objects.create(
        member=cast.net_control, first_date=dt.date(2026, 3, 4), last_date=dt.date(2026, 3, 9)
    )
    assert "in the chair and away" not in kinds(conflicts.coming(now=NOW))
    Absence.objects.create(
        member=cast.net_control, first_date=dt.date(2026, 3, 3), last_date=dt.date(2026, 3, 3)
    )
    assert "in the chair and away" in kinds(conflicts.coming(now=NOW))


def test_a_licence_that_will_have_run_out_is_told_without_its_date(session: Session, cast: Cast) -> None:
    cast.net_control.licence_expires_on = dt.date(2026, 2, 27)
    cast.net_control.save()
    seat(session, cast.net_control)
    (found,) = [each for each in conflicts.coming(now=NOW) if "licence" in each.kind]
    assert "February" not in found.sentence + found.way_out


def test_a_path_that_does_not_work_is_named_once_for_all_its_sessions(
    net: Net, session: Session, cast: Cast, ground: object
) -> None:
    hollow = make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors")
    for row in net.sessions.all()[:5]:
        seat(row, cast.net_control, station=hollow)
    (found,) = conflicts.coming(now=NOW)
    assert (found.kind, found.times) == ("no usable path", 5)
    assert found.sides == ("QZ2NCS, net control of Ridge Net", "Ridge 2 m")
    assert "margin" in found.sentence


def test_a_path_an_officer_has_accepted_is_settled(session: Session, cast: Cast, ground: object) -> None:
    hollow = make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors")
    seat(session, cast.net_control, station=hollow, overrule_reason="Drives up.", overruled_by=cast.officer)
    assert conflicts.coming(now=NOW) == []


def test_a_stale_verdict_is_not_believed(net: Net, session: Session, cast: Cast, ground: object) -> None:
    """It was computed from the valley; the station has moved into the hollow since."""
    station = make_station(cast.net_control)
    seat(session, cast.net_control, station=station)
    paths.refresh(station, net.relay, now=NOW)
    assert conflicts.coming(now=NOW) == []
    station.latitude_deg, station.longitude_deg = DEEP_HOLLOW
    station.antenna_height_m, station.power_w = 1.5, 0.5
    station.save()
    assert kinds(conflicts.coming(now=NOW)) == ["no usable path"]


def test_a_relay_off_the_air_is_one_conflict_with_each_net(net: Net, session: Session, relay: Relay) -> None:
    relay.status, relay.status_note = Relay.Status.OFF_AIR, "Lightning damage."
    relay.save()
    (found,) = conflicts.coming(now=NOW)
    assert (found.kind, found.times, found.sides) == ("relay off the air", 12, ("Ridge Net", "Ridge 2 m"))
    assert found.sentence.endswith("Ridge 2 m is off the air. Lightning damage.")


def test_a_session_sent_elsewhere_is_not_in_the_way(net: Net, session: Session, relay: Relay) -> None:
    session.relay = twin(relay, "Far")
    schedule.amend(session)
    relay.status = Relay.Status.OFF_AIR
    relay.save()
    (found,) = conflicts.coming(now=NOW)
    assert (found.times, found.sessions[0].occurrence_date) == (11, dt.date(2026, 3, 10))


def test_a_guest_net_outside_the_band_is_named(cast: Cast) -> None:
    planned(another(None, name="Guests", simplex_mhz="150.000"))
    (found,) = conflicts.coming(now=NOW)
    assert (found.kind, found.sides) == ("outside the band", ("Guests", "150.000 MHz"))
    assert "144.000 to 148.000 MHz" in found.sentence


def test_a_page_of_one_net_has_its_own_conflicts_only(net: Net, session: Session, relay: Relay) -> None:
    other = another(None, simplex_mhz="150.000")
    planned(other)
    assert conflicts.coming(now=NOW, net=net) == []
    assert kinds(conflicts.coming(now=NOW, net=other)) == ["outside the band"]


def test_a_session_has_the_conflicts_in_which_it_is_a_side(net: Net, relay: Relay) -> None:
    first, *_, last = planned(net, another(relay, ends_on=dt.date(2026, 3, 3)))
    assert kinds(conflicts.of_session(first, now=NOW)) == ["two nets at once"]
    assert conflicts.of_session(last, now=NOW) == []


def test_the_page_asks_no_more_for_more_sessions(
    net: Net, session: Session, cast: Cast, ground: object
) -> None:
    station = make_station(cast.net_control)
    paths.refresh(station, net.relay, now=NOW)
    seat(session, cast.net_control, station=station)
    with CaptureQueriesContext(
        connection,
    ) as few:
        conflicts.coming(now=NOW)
    for row in net.sessions.exclude(pk=session.pk):
        seat(row, cast.net_control, station=station)
    with CaptureQueriesContext(connection) as many:
        conflicts.coming(now=NOW)
    assert len(many) == len(few) <= 8
