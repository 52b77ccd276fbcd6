"""The invented club of the demo: loaded once, left alone afterwards."""

from __future__ import annotations

import datetime as dt
import json
import secrets
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth.models import Group
from django.db import transaction

from clubops import clock
from clubops.members import privileges
from clubops.members.licences import LicenceClass, Privilege
from clubops.members.models import Member, Station, User
from clubops.members.roles import GRANTS
from clubops.notices.models import Choice
from nets.models import Net
from relays.models import Relay, Site
from relays.terminals import fields_from_preset

CLUB_FILE = settings.BASE_DIR / "fixtures" / "demo" / "club.json"
LOGINS_FILE = settings.VAR_DIR / "demo-logins.json"
# The 2 m band decides which of a preset's two gains a demo station gets.
PRESET_FREQUENCY_MHZ = 146.0
WORDS = (
    "amber", "birch", "copper", "drift", "ember", "fern", "gravel", "harbour", "indigo", "juniper",
    "kettle", "lichen", "meadow", "nickel", "otter", "pebble", "quartz", "russet", "saddle", "thistle",
)  # fmt: skip


@dataclass(frozen=True)
class Login:
    """A way into the demo: made up on this machine, kept in var/, printed at every start."""

    role: str
    username: str
    password: str


@transaction.atomic
def load_club(*, now: dt.datetime, path: Path = CLUB_FILE) -> bool:
    """Load the club into an empty database. False, and nothing touched, when there is a club already."""
    if Member.objects.exists() or Site.objects.exists():
        return False
    club = json.loads(path.read_text(encoding="utf-8"))
    for row in club["licence_classes"]:
        _make_class(row)
    for row in club["members"]:
        _make_member(row, now)
    for row in club["sites"]:
        steward = Member.objects.get(call_sign=row.pop("steward"))
        _checked(Site(steward=steward, **row))
    for row in club["relays"]:
        site = Site.objects.get(slug=row.pop("site"))
        frequencies = {name: Decimal(row.pop(name)) for name in ("output_mhz", "input_mhz")}
        tones = {n: Decimal(row.pop(n)) for n in ("access_tone_hz", "output_tone_hz") if n in row}
        _checked(Relay(site=site, **frequencies, **tones, **row))
    for row in club["nets"]:
        _make_net(row, now)
    return True


def _checked(row: Any) -> None:
    """Save through the same validation that a form runs, so that the demo cannot hold what a form refuses."""
    row.full_clean()
    row.save()


def _make_class(row: dict[str, Any]) -> None:
    """A class of licence, invented: no country's table is delivered as true."""
    rows = row.pop("privileges")
    made = LicenceClass(**row)
    _checked(made)
    for each in rows:
        edges = {name: Decimal(each.pop(name)) for name in ("low_mhz", "high_mhz")}
        _checked(Privilege(licence_class=made, **edges, **each))


def _class_named(row: dict[str, Any], field: str) -> LicenceClass | None:
    return privileges.class_named(row.pop(field, ""))


def _make_member(row: dict[str, Any], now: dt.datetime) -> None:
    member = Member(
        call_sign=row["call_sign"],
        name=row["name"],
        email=f"{row['call_sign'].lower()}@members.club.example",
        licence_class=_class_named(row, "licence_class"),
        takes_the_chair=row["chair"],
        is_experienced=row.get("experienced", False),
        willingness=row.get("willingness", 1),
        joined_on=now.date() - dt.timedelta(days=400),
        licence_expires_on=now.date() + dt.timedelta(days=900),
    )
    _checked(member)
    if "language" in row:
        Choice.objects.create(member=member, language=row["language"])
    for index, place in enumerate(row["stations"]):
        _checked(station_from_preset(member, is_main=index == 0, **place))


def station_from_preset(member: Member, *, preset: str, **fields: Any) -> Station:
    """An unsaved station with a preset's figures; `fields` override them."""
    return Station(
        member=member, preset=preset, **(fields_from_preset(preset, PRESET_FREQUENCY_MHZ) | fields)
    )


def _make_net(row: dict[str, Any], now: dt.datetime) -> None:
    """A net that has been running for about a quarter, on its own weekday."""
    weekday = row.pop("weekday")
    began = clock.to_wall(now, settings.CLUB_ZONE).date() - dt.timedelta(weeks=13)
    net = Net(
        relay=Relay.objects.get(slug=row.pop("relay")) if "relay" in row else None,
        simplex_mhz=Decimal(row.pop("simplex_mhz")) if "simplex_mhz" in row else None,
        manager=Member.objects.get(call_sign=row.pop("manager")) if "manager" in row else None,
        guest_class=_class_named(row, "guest_class"),
        start_time=dt.time.fromisoformat(row.pop("start_time")),
        first_date=began + dt.timedelta(days=(weekday - began.weekday()) % 7),
        **row,
    )
    _checked(net)


def logins(*, path: Path = LOGINS_FILE) -> list[Login]:
    """A login for each role, made at the first call and the same ever after."""
    people = [row for row in json.loads(CLUB_FILE.read_text(encoding="utf-8"))["members"] if "login" in row]
    known = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    for row in people:
        known.setdefault(row["login"], "-".join(secrets.choice(WORDS) for _ in range(4)))
        _ensure_user(row, known[row["login"]])
    path.touch(mode=0o600)
    path.write_text(json.dumps(known, indent=1), encoding="utf-8")
    return [Login(row.get("role", "Member"), row["login"], known[row["login"]]) for row in people]


def _ensure_user(row: dict[str, Any], password: str) -> None:
    """Make the login when it is missing. An existing one keeps the password its owner may have chosen."""
    member = Member.objects.filter(call_sign=row["call_sign"]).first()
    if member is None or User.objects.filter(username=row["login"]).exists():
        return
    role = row.get("role")
    user = User.objects.create_user(
        row["login"], email=member.email, password=password, is_staff=bool(role and GRANTS[role])
    )
    if role:
        user.groups.add(Group.objects.get(name=role))
    member.user = user
    member.save()
