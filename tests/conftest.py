"""The shared cast: five readers, a frozen Tuesday, real ground, two relays, a net with a session tonight."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.forms.models import model_to_dict
from django.test import Client

from clubops.members.models import Member, Station, User
from clubops.members.permissions import NET_CONTROL, NET_MANAGER, OFFICER, RELAY_STEWARD
from nets import schedule
from nets.models import Net, Session
from relays import demo_terrain, terminals
from relays.models import Relay, Site, TerrainTile

pytest_plugins = ["tests.no_skips", "tests.postgresql_server", "tests.redis_server", "tests.faults.table"]

# Noon UTC on a Tuesday, five days before New York's clocks go forward.
NOW = dt.datetime(2026, 3, 3, 12, tzinfo=dt.UTC)

# Places on the demo terrain and what the relay on the ridge hears of them with a 50 W home station.
OPEN_VALLEY = (36.5702, -84.1101)
DEEP_HOLLOW = (36.6927, -84.3685)


@pytest.fixture
def now() -> dt.datetime:
    return NOW


_ground_row: dict[str, Any] = {}


@pytest.fixture
def ground(db: None) -> TerrainTile:
    """The demo terrain. The file is made once a run; each test gets its own row."""
    if not _ground_row:
        _ground_row.update(model_to_dict(demo_terrain.import_demo_terrain(now=NOW).tile, exclude=["id"]))
        return TerrainTile.objects.get()
    return TerrainTile.objects.create(**_ground_row)


def make_member(call_sign: str, *, login: str = "", role: str = "", **fields: Any) -> Member:
    """A member, with a login when one is named."""
    user = None
    if login:
        user = User.objects.create_user(login, password="pass", is_staff=role not in {"", NET_CONTROL})
        if role:
            user.groups.add(Group.objects.get(name=role))
    values = {"name": call_sign.title(), "email": f"{call_sign.lower()}@members.club.example"} | fields
    return Member.objects.create(call_sign=call_sign, user=user, **values)


def make_station(
    member: Member, place: tuple[float, float] = OPEN_VALLEY, preset: str = "home_vertical", **fields: Any
) -> Station:
    """A station from a preset, the member's main one unless said otherwise."""
    values = terminals.fields_from_preset(preset, 146.0) | {"name": "home", "is_main": True} | fields
    latitude_deg, longitude_deg = place
    return Station.objects.create(
        member=member, preset=preset, latitude_deg=latitude_deg, longitude_deg=longitude_deg, **values
    )


@dataclass
class Cast:
    """One of each kind of reader, each with a member but the outsider."""

    officer: Member
    manager: Member
    steward: Member
    net_control: Member
    member: Member

    @property
    def readers(self) -> dict[str, Member | None]:
        return {
            "outsider": None,
            "member": self.member,
            "net control": self.net_control,
            "steward": self.steward,
            "net manager": self.manager,
            "officer": self.officer,
        }


@pytest.fixture
def cast(db: None) -> Cast:
    return Cast(
        officer=make_member(
            "QZ2OFF", login="officer", role=OFFICER, takes_the_chair=True, is_experienced=True
        ),
        manager=make_member("QZ2MGR", login="manager", role=NET_MANAGER, takes_the_chair=True),
        steward=make_member("QZ2STW", login="steward", role=RELAY_STEWARD),
        net_control=make_member(
            "QZ2NCS", login="control", role=NET_CONTROL, takes_the_chair=True, is_experienced=True
        ),
        member=make_member("QZ2MEM", login="member"),
    )


@pytest.fixture
def as_reader(cast: Cast) -> Callable[[str], Client]:
    """A browser of one of the cast's readers: `as_reader("net manager")`."""

    def browser(who: str) -> Client:
        client = Client()
        if member := cast.readers[who]:
            client.force_login(member.user)
        return client

    return browser


@pytest.fixture
def site(db: None) -> Site:
    return Site.objects.create(
        name="High Ridge",
        slug="high-ridge",
        latitude_deg=36.4847,
        longitude_deg=-84.2308,
        access_notes="Two gates.",
    )


@pytest.fixture
def relay(site: Site) -> Relay:
    return Relay.objects.create(
        site=site,
        name="Ridge 2 m",
        slug="ridge-2m",
        call_sign="QZ2RLY",
        output_mhz=Decimal("146.730"),
        input_mhz=Decimal("146.130"),
        access_tone_hz=Decimal("103.5"),
        power_w=40,
        antenna_height_m=22,
        feedline_kind="hardline_1_2",
        feedline_length_m=30,
    )


@pytest.fixture
def net(relay: Relay, cast: Cast) -> Net:
    """Every Tuesday at 19:30 in New York, first met three weeks before NOW."""
    return Net.objects.create(
        name="Ridge Net",
        slug="ridge-net",
        relay=relay,
        rule="FREQ=WEEKLY;BYDAY=TU",
        first_date=dt.date(2026, 2, 10),
        start_time=dt.time(19, 30),
        zone="America/New_York",
        manager=cast.manager,
        script="Good evening.",
    )


@pytest.fixture
def session(net: Net) -> Session:
    """Tonight's session: 2026-03-04 00:30 UTC."""
    schedule.plan_sessions(net, now=NOW)
    return net.sessions.get(occurrence_date=dt.date(2026, 3, 3))
