"""Nobody is put in the chair from a place the relay cannot hear, unless an officer writes why."""

from __future__ import annotations

import datetime as dt

import pytest

from nets import duties
from nets.models import Absence, Duty, Net, Session
from relays.models import Relay, TerrainTile
from tests.conftest import DEEP_HOLLOW, NOW, Cast, make_station

CONTROL = Duty.Role.NET_CONTROL
pytestmark = pytest.mark.usefixtures("ground")


def chair(session: Session, member, role: str = CONTROL) -> duties.Chair:
    return duties.Chair(session, role, member, duties.station_for(member))


def test_it_gives_the_chair_to_someone_the_relay_hears(session: Session, cast: Cast) -> None:
    make_station(cast.net_control)
    duty = duties.assign(chair(session, cast.net_control), now=NOW)
    assert (duty.member, duty.state) == (cast.net_control, Duty.State.ASSIGNED)


def test_it_refuses_a_hollow_with_the_margin_and_the_reason(session: Session, cast: Cast) -> None:
    make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors")
    with pytest.raises(
        duties.DutyRefused, match=r"QZ2NCS cannot be put in the chair.*margin -\d+\.\d dB.*asked for"
    ):
        duties.assign(chair(session, cast.net_control), now=NOW)
    assert not Duty.objects.exists()


def test_an_officer_may_overrule_with_a_reason_that_stays(session: Session, cast: Cast) -> None:
    make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors")
    duty = duties.assign(
        chair(session, cast.net_control),
        now=NOW,
        overruled_by=cast.officer,
        overrule_reason="Drives up the hill.",
    )
    assert (duty.overrule_reason, duty.overruled_by) == ("Drives up the hill.", cast.officer)


def test_a_reason_must_say_something(session: Session, cast: Cast) -> None:
    make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors")
    with pytest.raises(duties.DutyRefused, match="too short for a reason"):
        duties.assign(
            chair(session, cast.net_control), now=NOW, overruled_by=cast.officer, overrule_reason="ok"
        )


def test_a_reason_is_not_kept_where_none_was_needed(session: Session, cast: Cast) -> None:
    make_station(cast.net_control)
    duty = duties.assign(
        chair(session, cast.net_control),
        now=NOW,
        overruled_by=cast.officer,
        overrule_reason="Just in case, really.",
    )
    assert duty.overrule_reason == ""


def test_it_refuses_someone_without_a_station(session: Session, cast: Cast) -> None:
    with pytest.raises(duties.DutyRefused, match="no station is on record"):
        duties.assign(chair(session, cast.net_control), now=NOW)


def test_it_refuses_someone_who_is_away_by_their_own_calendar(session: Session, cast: Cast) -> None:
    """The session begins at 00:30 UTC on the 4th, which is still the 3rd in New York."""
    make_station(cast.net_control)
    Absence.objects.create(
        member=cast.net_control, first_date=dt.date(2026, 3, 3), last_date=dt.date(2026, 3, 3)
    )
    with pytest.raises(duties.DutyRefused, match="is away from 2026-03-03"):
        duties.assign(chair(session, cast.net_control), now=NOW)


def test_it_refuses_both_chairs_to_one_person(session: Session, cast: Cast) -> None:
    make_station(cast.net_control)
    duties.assign(chair(session, cast.net_control), now=NOW)
    with pytest.raises(duties.DutyRefused, match="already has the other chair"):
        duties.assign(chair(session, cast.net_control, Duty.Role.BACKUP), now=NOW)


def test_it_refuses_two_nets_at_once(session: Session, net: Net, cast: Cast) -> None:
    make_station(cast.net_control)
    duties.assign(chair(session, cast.net_control), now=NOW)
    other = Net.objects.create(
        name="Other", slug="other", simplex_mhz="146.550", first_date=net.first_date, start_time=dt.time(20)
    )
    clash = Session.objects.create(
        net=other,
        occurrence_date=session.occurrence_date,
        starts_at=session.starts_at + dt.timedelta(minutes=30),
        ends_at=session.ends_at + dt.timedelta(minutes=30),
    )
    with pytest.raises(duties.DutyRefused, match="already net control of Ridge Net"):
        duties.assign(chair(clash, cast.net_control), now=NOW)


def test_it_refuses_a_called_off_session(session: Session, cast: Cast) -> None:
    session.state = Session.State.CANCELLED
    session.save()
    with pytest.raises(duties.DutyRefused, match="is cancelled"):
        duties.assign(chair(session, cast.net_control), now=NOW)


def test_a_new_holder_replaces_the_old_one(session: Session, cast: Cast) -> None:
    for member in (cast.net_control, cast.officer):
        make_station(member)
        duties.assign(chair(session, member), now=NOW)
    assert [duty.member for duty in session.duties.all()] == [cast.officer]


def test_another_relay_tonight_is_the_one_that_counts(session: Session, cast: Cast, relay: Relay) -> None:
    make_station(cast.net_control)
    far = Relay.objects.get(pk=relay.pk)
    far.pk, far.name, far.slug, far.power_w, far.antenna_gain_dbi = None, "Weak", "weak", 0.001, -30
    far.save()
    session.relay = far
    session.save()
    with pytest.raises(duties.DutyRefused, match="Weak"):
        duties.assign(chair(session, cast.net_control), now=NOW)


def test_answering_twice_is_one_answer(session: Session, cast: Cast) -> None:
    duty = Duty.objects.create(session=session, role=CONTROL, member=cast.net_control)
    assert duties.answer(duty, confirmed=True, now=NOW)
    assert not duties.answer(duty, confirmed=True, now=NOW)
    assert duty.answered_at == NOW


def test_a_simplex_net_asks_for_no_path(session: Session, net: Net, cast: Cast) -> None:
    net.relay, net.simplex_mhz = None, "146.550"
    net.save()
    session.refresh_from_db()
    assert duties.assign(chair(session, cast.net_control), now=NOW).pk


def test_the_ground_decides_not_the_name(session: Session, cast: Cast, ground: TerrainTile) -> None:
    """Without terrain there is no answer, and no answer is not a usable path."""
    make_station(cast.net_control)
    ground.delete()
    with pytest.raises(duties.DutyRefused, match="No terrain has been imported"):
        duties.assign(chair(session, cast.net_control), now=NOW)
