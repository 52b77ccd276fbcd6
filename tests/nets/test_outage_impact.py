"""What an outage cuts off: sessions, people, and the other relays each session can use, by their margins."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from clubops.members.models import Member
from nets import outage_impact, schedule
from nets.models import Duty, Net, Session
from nets.outage_impact import MOST_SESSIONS
from relays import paths
from relays.models import Outage, Relay
from relays.outages import Terms
from tests.conftest import NOW, Cast, make_member, make_station
from tests.nets.conftest import another

HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)


@pytest.fixture
def strong(relay: Relay) -> Relay:
    return another(relay, "strong", output_mhz=Decimal("147.060"), input_mhz=Decimal("147.660"), power_w=100)


@pytest.fixture
def weak(relay: Relay) -> Relay:
    """Talk-out of a milliwatt."""
    return another(relay, "weak", output_mhz=Decimal("147.120"), input_mhz=Decimal("147.720"), power_w=0.001)


@pytest.fixture
def staffed(session: Session, cast: Cast, ground: object) -> Session:
    for role, member in (("net_control", cast.net_control), ("backup", cast.officer)):
        Duty.objects.create(session=session, role=role, member=member, station=make_station(member))
    return session


def evening(session: Session, **fields: object) -> Terms:
    given = {"starts_at": session.starts_at - HOUR, "ends_at": session.ends_at + HOUR, "reason": "Antenna"}
    return Terms(**(given | fields))


def impact(relay: Relay, session: Session, **fields: object) -> outage_impact.Impact:
    return outage_impact.would_be(relay, evening(session, **fields), now=NOW)


def test_a_session_in_it_is_named_with_who_is_on_duty(relay, staffed):
    (hit,) = impact(relay, staffed).hits
    assert hit.session == staffed
    assert {duty.member.call_sign for duty in hit.duties} == {"QZ2NCS", "QZ2OFF"}


def test_the_relay_that_everybody_gets_into_comes_first(relay, staffed, weak, strong):
    (hit,) = impact(relay, staffed).hits
    assert [way.relay for way in hit.fallbacks] == [strong, weak]
    assert hit.best is not None
    assert hit.best.relay == strong
    assert not hit.fallbacks[1].does


def test_margins_are_those_of_the_path_page(relay, staffed, strong):
    (hit,) = impact(relay, staffed).hits
    expected = [paths.verdict_now(duty.station, strong, now=NOW).margin_db for duty in staffed.duties.all()]
    assert hit.fallbacks[0].worst_margin_db == pytest.approx(min(expected))


def test_without_another_relay_there_is_no_fallback(relay, staffed):
    (hit,) = impact(relay, staffed).hits
    assert (hit.fallbacks, hit.best) == ((), None)


@pytest.mark.parametrize("status", ["off_air", "planned"])
def test_a_relay_that_is_not_on_the_air_is_none(relay, staffed, strong, status):
    Relay.objects.filter(pk=strong.pk).update(status=status)
    (hit,) = impact(relay, staffed).hits
    assert hit.best is None


def test_one_that_is_silent_then_too_is_named_and_not_offered(relay, staffed, strong):
    Outage.objects.create(relay=strong, starts_at=NOW, ends_at=NOW + 2 * DAY, reason="Fan")
    (hit,) = impact(relay, staffed).hits
    assert (hit.best, hit.fallbacks[0].why_not) == (None, "off the air then too")


def test_one_on_which_another_net_meets_then_is_named_and_not_offered(relay, staffed, strong, net: Net):
    fields = {name: getattr(net, name) for name in ("rule", "first_date", "start_time", "zone")}
    other = Net.objects.create(name="Other Net", slug="other-net", relay=strong, **fields)
    schedule.plan_sessions(other, now=NOW)
    (hit,) = impact(relay, staffed).hits
    assert (hit.best, hit.fallbacks[0].why_not) == (None, "Other Net meets there at that time")


def test_who_declined_is_not_asked_about(relay, staffed, cast: Cast):
    staffed.duties.filter(member=cast.officer).update(state=Duty.State.DECLINED)
    (hit,) = impact(relay, staffed).hits
    assert [duty.member for duty in hit.duties] == [cast.net_control]


def test_somebody_without_a_station_leaves_no_relay_that_does(relay, staffed, strong):
    staffed.duties.update(station=None)
    for member in (duty.member for duty in staffed.duties.all()):
        member.stations.all().delete()
    (hit,) = impact(relay, staffed).hits
    assert (hit.best, hit.fallbacks[0].worst_margin_db) == (None, None)


def test_with_nobody_on_duty_nothing_is_promised(relay, session, strong, ground):
    (hit,) = impact(relay, session).hits
    assert hit.best is None


def test_a_session_that_was_called_off_is_not_hit(relay, staffed):
    schedule.call_off(staffed, note="Storm")
    assert impact(relay, staffed).is_empty


@pytest.mark.parametrize("shift", [-3 * HOUR, 5 * HOUR])
def test_an_outage_before_or_behind_a_session_hits_none(relay, staffed, shift):
    start = staffed.starts_at + shift
    found = impact(relay, staffed, starts_at=start, ends_at=start + HOUR)
    assert found.hits == []


def test_a_session_on_a_linked_relay_is_heard_less(relay, staffed, strong):
    relay.linked_to.add(strong)
    found = outage_impact.would_be(strong, evening(staffed), now=NOW)
    assert (found.hits, found.heard_less) == ([], [staffed])


def test_a_member_whose_only_relay_it_is_is_named(relay, session, strong, weak, ground):
    """One member reaches both relays, the other has no path to `strong` because it stands off the air."""
    alone = make_member("QZ2ALN")
    make_station(alone)
    Relay.objects.filter(pk=strong.pk).update(status="off_air")
    paths.refresh_stale(now=NOW)
    assert impact(relay, session).alone == [alone]
    Relay.objects.filter(pk=strong.pk).update(status="on_air")
    assert impact(relay, session).alone == []


def test_a_path_that_is_not_worked_out_is_counted_and_not_guessed(relay, session, strong, ground):
    make_station(make_member("QZ2ALN"))
    found = impact(relay, session)
    assert (found.alone, found.unknown) == ([], Member.objects.filter(is_active=True).count())


def test_a_reduced_relay_leaves_nobody_alone(relay, session, weak, ground):
    make_station(make_member("QZ2ALN"))
    paths.refresh_stale(now=NOW)
    assert impact(relay, session, effect="reduced").alone == []


def test_one_without_an_end_counts_the_next_week(relay, net, session, ground):
    schedule.plan_sessions(net, now=NOW)
    terms = Terms(NOW - HOUR, None, "Silent", kind="unplanned")
    found = outage_impact.would_be(relay, terms, now=NOW)
    assert [hit.session for hit in found.hits] == [session]


def test_a_long_one_lists_some_and_counts_the_rest(relay, net, session, ground):
    schedule.plan_sessions(net, now=NOW, weeks=20)
    found = impact(relay, session, ends_at=session.ends_at + dt.timedelta(weeks=15))
    assert (len(found.hits), found.more) == (MOST_SESSIONS, 16 - MOST_SESSIONS)


def test_one_that_is_over_cuts_off_nothing(relay, session, ground):
    assert impact(relay, session, starts_at=NOW - 2 * DAY, ends_at=NOW - DAY).is_empty


def test_many_sessions_are_judged_with_few_questions(
    relay, strong, weak, staffed, net, django_assert_max_num_queries
):
    schedule.plan_sessions(net, now=NOW)
    terms = Terms(NOW + HOUR, NOW + 40 * DAY, "Tower work")
    outage_impact.would_be(relay, terms, now=NOW)
    sessions = len(outage_impact.would_be(relay, terms, now=NOW).hits)
    assert sessions >= 5
    with django_assert_max_num_queries(30):
        outage_impact.would_be(relay, terms, now=NOW)
