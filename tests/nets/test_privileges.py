"""A chair asks for a licence that covers what is sent: the relay's input or the simplex frequency, with the power."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clubops.clock import Span
from clubops.members.licences import LicenceClass
from clubops.members.models import Member
from clubops.members.segments import Operation
from nets import agenda, conflicts, duties, foretold, privileges
from nets.conflicts import Conflict
from nets.models import Duty, Net, Session
from nets.rota import world
from relays.bands import HALF_OCCUPIED_MHZ
from relays.models import Relay
from tests.conftest import DEEP_HOLLOW, NOW, Cast, make_station
from tests.members.test_privileges import a_class

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("ground")]

CONTROL = Duty.Role.NET_CONTROL
# The net of the cast is on a relay with its input on 146.130 MHz.
LOWER = ("144", "146", None, Operation.CHAIR)
UPPER = ("146", "148", None, Operation.CHAIR)
WEAK = ("144", "148", 10.0, Operation.CHAIR)
ALONE = ("144", "148", None, Operation.ALONE)


def holds(member: Member, licence_class: LicenceClass) -> Member:
    member.licence_class = licence_class
    member.save()
    return member


def chair(session: Session, member: Member) -> duties.Chair:
    return duties.Chair(session, CONTROL, member, duties.station_for(member))


def seat(session: Session, member: Member) -> Duty:
    """A duty as it stands in the records, however it came there."""
    return Duty.objects.create(
        session=session, member=member, role=CONTROL, station=duties.station_for(member)
    )


def beyond() -> list[Conflict]:
    return [each for each in conflicts.coming(now=NOW) if each.kind == "beyond the licence"]


# What is sent --------------------------------------------------------------------------------------


def test_a_station_sends_on_the_input_of_the_relay(session: Session, relay: Relay) -> None:
    assert privileges.transmit_mhz(session) == relay.input_mhz != relay.output_mhz


def test_another_relay_tonight_has_its_own_input(session: Session, relay: Relay) -> None:
    relay.pk, relay.name, relay.slug, relay.input_mhz = None, "Far", "far", Decimal("147.660")
    relay.save()
    session.relay = relay
    assert privileges.transmit_mhz(session) == Decimal("147.660")


def test_a_simplex_net_sends_where_it_listens(net: Net, session: Session) -> None:
    net.relay, net.simplex_mhz = None, Decimal("146.550")
    net.save()
    assert privileges.transmit_mhz(Session.objects.get(pk=session.pk)) == Decimal("146.550")


# Given by hand -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        (LOWER, "QZ2NCS may not send on 146.130 MHz with licence class Fern, which allows 144.000 to 146.000"),
        (WEAK, "QZ2NCS may send with at most 10 W on 146.130 MHz with licence class Fern, and the station has 50 W"),
        (ALONE, "QZ2NCS may not be net control on 146.130 MHz with licence class Fern"),
        (("144", "146.13", None, 3), "a signal 16 kHz wide there reaches past the edge"),
    ],
)  # fmt: skip
def test_a_chair_beyond_the_licence_is_refused(
    row: tuple[str, str, float | None, int], sentence: str, session: Session, cast: Cast
) -> None:
    make_station(holds(cast.net_control, a_class("Fern", row)), power_w=50)
    with pytest.raises(duties.DutyRefused) as refused:
        duties.assign(chair(session, cast.net_control), now=NOW)
    assert sentence in refused.value.sentence
    assert not Duty.objects.exists()


def test_a_chair_within_the_licence_is_given(session: Session, cast: Cast) -> None:
    make_station(holds(cast.net_control, a_class("Fern", UPPER)))
    assert duties.assign(chair(session, cast.net_control), now=NOW).pk


def test_an_unknown_class_stops_nobody(session: Session, cast: Cast) -> None:
    make_station(holds(cast.net_control, a_class("Fern")))
    seat(session, cast.net_control)
    assert beyond() == []
    assert duties.assign(chair(session, cast.net_control), now=NOW).pk


def test_an_officer_overrules_a_path_but_no_licence(session: Session, cast: Cast) -> None:
    make_station(holds(cast.net_control, a_class("Fern", LOWER)), DEEP_HOLLOW, "handheld_indoors")
    with pytest.raises(duties.DutyRefused, match="may not send") as refused:
        duties.assign(
            chair(session, cast.net_control),
            now=NOW,
            overruled_by=cast.officer,
            overrule_reason="Drives up the hill.",
        )
    assert not refused.value.may_be_overruled


def test_a_licence_that_has_run_out_by_then_is_refused(session: Session, cast: Cast) -> None:
    """The session begins at 00:30 UTC on the 4th, which is still the 3rd in New York."""
    make_station(cast.net_control)
    cast.net_control.licence_expires_on = dt.date(2026, 3, 2)
    cast.net_control.save()
    with pytest.raises(duties.DutyRefused, match="has run out by then") as refused:
        duties.assign(chair(session, cast.net_control), now=NOW)
    assert "2026" not in refused.value.sentence
    cast.net_control.licence_expires_on = dt.date(2026, 3, 3)
    cast.net_control.save()
    assert duties.assign(chair(session, cast.net_control), now=NOW).pk


def test_the_form_of_a_chair_says_why(
    session: Session, cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    make_station(holds(cast.net_control, a_class("Fern", LOWER)))
    address = reverse("nets:chair", args=["ridge-net", "2026-03-03", "net_control"])
    page = as_reader("officer").post(address, {"member": cast.net_control.pk}).content.decode()
    assert "QZ2NCS may not send on 146.130 MHz" in page
    assert not Duty.objects.exists()


def test_the_office_says_why(
    session: Session, cast: Cast, as_reader: Callable[[str], Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    make_station(holds(cast.net_control, a_class("Fern", LOWER)))
    given = {
        "session": session.pk,
        "role": CONTROL,
        "member": cast.net_control.pk,
        "overrule_reason": "It is right.",
    }
    page = as_reader("officer").post(reverse("admin:nets_duty_add"), given)
    assert "QZ2NCS may not send on 146.130 MHz" in page.content.decode()
    assert not Duty.objects.exists()


# Conflicts -----------------------------------------------------------------------------------------


def test_net_control_beyond_the_licence_is_named_with_both_sides(session: Session, cast: Cast) -> None:
    make_station(holds(cast.net_control, a_class("Fern", LOWER)))
    for row in session.net.sessions.all()[:3]:
        seat(row, cast.net_control)
    a_class("Summit", UPPER)
    (found,) = beyond()
    assert (found.sides, found.times) == (("QZ2NCS, net control of Ridge Net", "licence class Fern"), 3)
    assert found.sentence == (
        "On Tuesday 3 March 2026 QZ2NCS, net control of Ridge Net, may not send on 146.130 MHz with licence class "
        "Fern, which allows 144.000 to 146.000 MHz."
    )
    assert found.way_out.startswith("Let somebody with licence class Summit take the chair.")


def test_too_much_power_is_turned_down(session: Session, cast: Cast) -> None:
    make_station(holds(cast.net_control, a_class("Fern", WEAK)), power_w=50)
    seat(session, cast.net_control)
    (found,) = beyond()
    assert found.way_out.startswith("Turn the power down to 10 W and check the path again, or let somebody")
    cast.net_control.stations.update(power_w=10)
    assert beyond() == []


def test_where_no_class_may_send_another_place_is_the_way_out(session: Session, cast: Cast) -> None:
    make_station(holds(cast.net_control, a_class("Fern", LOWER)))
    seat(session, cast.net_control)
    (found,) = beyond()
    assert found.way_out.startswith("Choose another relay or frequency: no class")


def test_a_licence_that_has_run_out_is_told_once(session: Session, cast: Cast) -> None:
    make_station(holds(cast.net_control, a_class("Fern", LOWER)))
    cast.net_control.licence_expires_on = dt.date(2026, 2, 27)
    cast.net_control.save()
    seat(session, cast.net_control)
    assert [each.kind for each in conflicts.coming(now=NOW)] == ["in the chair without a licence"]


def guests(net: Net, *rows: tuple[str, str, float | None, int]) -> Net:
    net.guest_of, net.guest_class = "the Valley Club", a_class("Fern", *rows)
    net.full_clean()
    net.save()
    return net


def test_a_guest_net_beyond_the_class_of_its_net_control_is_named(net: Net, session: Session) -> None:
    guests(net, LOWER)
    a_class("Summit", UPPER)
    (found,) = conflicts.coming(now=NOW)
    assert (found.kind, found.times) == ("guests beyond the licence", 12)
    assert found.sides == ("Ridge Net, run by the Valley Club", "licence class Fern")
    assert found.sentence.startswith(
        "On Tuesday 3 March 2026 net control of Ridge Net, from the Valley Club, may not send"
    )
    assert found.way_out.startswith("Let somebody with licence class Summit take the chair.")


@pytest.mark.parametrize("rows", [(), (UPPER,)])
def test_guests_within_their_class_or_of_an_unknown_one_are_welcome(
    rows: tuple[tuple[str, str, float | None, int], ...], net: Net, session: Session
) -> None:
    guests(net, *rows)
    assert conflicts.coming(now=NOW) == []


def test_guests_bring_their_own_net_control(net: Net, session: Session, cast: Cast) -> None:
    """The rota leaves their net out, and no chair of it is wanted."""
    guests(net)
    found = world.gather(None, Span(NOW, NOW + dt.timedelta(weeks=4)), world.Terms(), now=NOW)
    assert found.problem.seats == ()
    (seat, *_) = agenda.between(NOW, NOW + dt.timedelta(weeks=1))
    assert (seat.line, seat.is_short) == ("Net control: from the Valley Club.", False)


def test_a_guests_class_without_guests_is_refused(net: Net) -> None:
    net.guest_class = a_class("Fern")
    with pytest.raises(ValidationError, match="name the club or group whose net this is"):
        net.full_clean()


def test_a_declined_chair_is_no_conflict(session: Session, cast: Cast) -> None:
    make_station(holds(cast.net_control, a_class("Fern", LOWER)))
    duty = seat(session, cast.net_control)
    assert beyond()
    Duty.objects.filter(pk=duty.pk).update(state=Duty.State.DECLINED)
    assert beyond() == []


def test_half_the_bandwidth_is_that_of_the_band_check() -> None:
    """Carson's rule as in 47 CFR 2.202(g), commercial telephony: 2M + 2DK with D 5 kHz, M 3 kHz, K 1 is 16K0F3E."""
    assert Decimal(2) * HALF_OCCUPIED_MHZ * 1000 == 2 * (5 + 3)


def test_many_sessions_ask_no_more_of_the_table(net: Net, session: Session, cast: Cast) -> None:
    make_station(holds(cast.net_control, a_class("Fern", UPPER)))
    seat(session, cast.net_control)
    conflicts.coming(now=NOW)
    with CaptureQueriesContext(connection) as few:
        conflicts.coming(now=NOW)
    for row in net.sessions.exclude(pk=session.pk):
        seat(row, cast.net_control)
    with CaptureQueriesContext(connection) as many:
        conflicts.coming(now=NOW)
    assert len(many) == len(few)


def test_moving_a_net_says_whom_the_new_place_shuts_out(net: Net, session: Session, cast: Cast) -> None:
    make_station(holds(cast.net_control, a_class("Fern", UPPER)))
    seat(session, cast.net_control)
    edited = Net.objects.get(pk=net.pk)
    edited.relay, edited.simplex_mhz = None, Decimal("145.550")
    told = " ".join(foretold.foretell(edited, now=NOW).sentences)
    assert "somebody else is needed: QZ2NCS may not send on 145.550 MHz with licence class Fern" in told
