"""Wrong members, stations, places, chairs and days away."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from nets import duties, schedule
from nets.models import Absence, Duty, Net, Session
from relays import terminals
from relays.forms import known_places
from relays.models import Relay
from relays.places import looks_swapped
from tests.bad_input.conftest import Refuses
from tests.conftest import DEEP_HOLLOW, NOW, Cast, make_station

pytestmark = pytest.mark.django_db

# Members -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        (
            {"call_sign": "12345"},
            "“12345” has no letter. A call sign has one or two characters for the country",
        ),
        ({"call_sign": "QZ2"}, "“QZ2” ends in a digit"),
        ({"call_sign": "QZ2MEM"}, "Somebody with this call sign is on the roster already."),
        ({"willingness": "9"}, "9 is too much; give at most 5."),
        ({"zone": "America/Nwe_York"}, "Did you mean America/New_York?"),
        ({"email": "nobody"}, "Enter a valid email address."),
    ],
)
def test_a_wrong_member(changes: dict[str, str], sentence: str, cast: Cast, refuses: Refuses) -> None:
    given = {
        "call_sign": "QZ3NEW", "name": "Nora New", "email": "new@members.club.example", "willingness": "1",
        "zone": "America/New_York",
    } | changes  # fmt: skip
    refuses("officer", reverse("admin:members_member_add"), given, sentence)


# Stations and places -------------------------------------------------------------------------------


def station(**changes: str) -> dict[str, str]:
    usual = {name: str(value) for name, value in terminals.fields_from_preset("home_vertical", 146.0).items()}
    return usual | {"name": "cabin", "place": "36.5702, -84.1101"} | changes


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"place": "95, -84.11"}, "The first number cannot be a latitude, which runs from -90 to 90."),
        ({"place": "-101.5, 36.57"}, "Latitude comes first: write the two the other way round."),
        ({"place": "-84.1101, 36.5702"}, "Latitude comes first: write the two the other way round."),
        ({"place": "36.57, -190"}, "Latitude runs from -90 to 90 and longitude from -180 to 180"),
        ({"place": "by the mill"}, "That is neither coordinates nor a locator."),
        ({"antenna_height_m": "0.2"}, "0.2 is too little; give at least 1."),
        ({"antenna_height_m": "5000"}, "5000.0 is too much; give at most 3000."),
        ({"power_w": "five"}, "“five” is not a number; write it with a point"),
        ({"antenna_swr": "0.9"}, "0.9 is too little; give at least 1."),
        ({"name": "home"}, "You already have a station called “home”; give this one another name."),
        ({"feedline_kind": "string"}, "“string” is not one of the choices"),
    ],
)
def test_a_wrong_station(
    changes: dict[str, str], sentence: str, cast: Cast, relay: Relay, refuses: Refuses
) -> None:
    make_station(cast.member)
    address = f"{reverse('relays:new_station')}?radio=home_vertical"
    unkept = frozenset({"feedline_kind"} & changes.keys())
    refuses("member", address, station(**changes), sentence, unkept=unkept)


def test_a_place_abroad_is_not_taken_for_swapped(cast: Cast, relay: Relay) -> None:
    """Sydney and Quito, from memory: far from the relay either way round."""
    assert not looks_swapped(-33.9, 151.2, known_places())
    assert not looks_swapped(-0.2, -78.5, known_places())
    assert looks_swapped(-84.2, 36.5, known_places())


@pytest.mark.parametrize(
    ("place", "sentence"),
    [
        ("-84.1101, 36.5702", "farther from every relay of the club than any path reaches"),
        ("EM8", "That is neither coordinates nor a locator."),
        ("", "Say where you are: coordinates or a locator."),
    ],
)
def test_a_wrong_place_to_check_from(
    place: str, sentence: str, relay: Relay, cast: Cast, refuses: Refuses
) -> None:
    said = refuses(
        "outsider", reverse("relays:path"), {"place": place, "radio": "handheld_in_hand"}, sentence
    )
    assert "farther" not in sentence or "84.11" not in said


def test_two_main_stations_in_the_office(cast: Cast, refuses: Refuses) -> None:
    make_station(cast.member)
    given = station(member=str(cast.member.pk), is_main="on", latitude_deg="36.6", longitude_deg="-84.1")
    del given["place"]
    refuses(
        "officer", reverse("admin:members_station_add"), given, "QZ2MEM has a main station already, “home”"
    )


def test_a_station_name_twice_in_the_office(cast: Cast, refuses: Refuses) -> None:
    make_station(cast.member)
    given = station(member=str(cast.member.pk), name="home", latitude_deg="36.6", longitude_deg="-84.1")
    del given["place"]
    refuses(
        "officer",
        reverse("admin:members_station_add"),
        given,
        "This member already has a station of that name",
    )


# Chairs --------------------------------------------------------------------------------------------


@pytest.fixture
def clash(session: Session, net: Net) -> Session:
    """Another net's session half an hour into tonight's."""
    other = Net.objects.create(
        name="Other",
        slug="other",
        simplex_mhz="146.550",
        first_date=session.occurrence_date,
        start_time=dt.time(20),
    )
    schedule.plan_sessions(other, now=NOW)
    return other.sessions.get(occurrence_date=session.occurrence_date)


def chair(session: Session, role: str = "net_control") -> str:
    return reverse("nets:chair", args=[session.net.slug, session.occurrence_date.isoformat(), role])


def test_two_chairs_at_once(
    session: Session, clash: Session, cast: Cast, ground: object, refuses: Refuses
) -> None:
    station = make_station(cast.net_control)
    duties.assign(duties.Chair(session, Duty.Role.NET_CONTROL, cast.net_control, station), now=NOW)
    sentence = "QZ2NCS is already net control of Ridge Net at that time."
    refuses("net manager", chair(clash), {"member": cast.net_control.pk}, sentence)
    office = {
        "session": clash.pk,
        "role": "backup",
        "member": cast.net_control.pk,
        "overrule_reason": "He asked to.",
    }
    refuses("officer", reverse("admin:nets_duty_add"), office, sentence)


def test_both_chairs_of_one_session(session: Session, cast: Cast, ground: object, refuses: Refuses) -> None:
    station = make_station(cast.net_control)
    duties.assign(duties.Chair(session, Duty.Role.NET_CONTROL, cast.net_control, station), now=NOW)
    given = {"member": cast.net_control.pk}
    refuses(
        "net manager", chair(session, "backup"), given, "QZ2NCS already has the other chair in this session."
    )


def test_a_chair_without_a_path(session: Session, cast: Cast, ground: object, refuses: Refuses) -> None:
    station = make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors")
    given = {"member": cast.net_control.pk, "station": station.pk}
    refuses("net manager", chair(session), given, "QZ2NCS cannot be put in the chair", "margin")


def test_a_chair_while_away(session: Session, cast: Cast, ground: object, refuses: Refuses) -> None:
    make_station(cast.net_control)
    Absence.objects.create(
        member=cast.net_control, first_date=session.occurrence_date, last_date=session.occurrence_date
    )
    given = {"member": cast.net_control.pk}
    refuses(
        "net manager", chair(session), given, "is away from 2026-03-03 to 2026-03-03; choose somebody else"
    )


def test_a_chair_for_nobody(session: Session, cast: Cast, refuses: Refuses) -> None:
    refuses("net manager", chair(session), {"member": ""}, "This field is required.")


def test_a_chair_from_somebody_elses_station(
    session: Session, cast: Cast, ground: object, refuses: Refuses
) -> None:
    make_station(cast.net_control)
    theirs = make_station(cast.member)
    given = {"member": cast.net_control.pk, "station": theirs.pk}
    refuses("net manager", chair(session), given, "That station is not one of QZ2NCS's.")


@pytest.mark.parametrize(
    ("first", "last", "sentence"),
    [
        ("2026-04-05", "2026-04-01", "The last day 2026-04-01 is before the first day 2026-04-05."),
        ("", "2026-04-01", "This field is required."),
    ],
)
def test_days_away_the_wrong_way_round(
    first: str, last: str, sentence: str, cast: Cast, refuses: Refuses
) -> None:
    given = {"first_date": first, "last_date": last, "note": "Sea."}
    refuses("member", reverse("nets:my_duties"), given, sentence)
