"""Run in a process of its own: `stage.py VERB [ARGUMENTS]`, on the database that CLUBOPS_DATABASE_URL names."""

from __future__ import annotations

import datetime as dt
import json
import os
import sys

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django

django.setup()

from django.contrib.auth.models import Group  # noqa: E402
from django.contrib.staticfiles.handlers import StaticFilesHandler  # noqa: E402
from django.core.servers.basehttp import get_internal_wsgi_application, run  # noqa: E402
from django.test import Client  # noqa: E402
from django.utils import timezone  # noqa: E402

from clubops.members.models import Member, User  # noqa: E402
from clubops.members.permissions import NET_MANAGER  # noqa: E402
from nets.checkins import keeping, rollcall  # noqa: E402
from nets.models import Duty, Net, Session  # noqa: E402
from relays.models import Relay, Site  # noqa: E402
from tests.log.evenings import EVENINGS, FIRST_DATE  # noqa: E402

PEOPLE = {
    "QZ2NCS": "Nell Control",
    "QZ2MGR": "Max Manager",
    "QZ2ADA": "Ada Fenwick",
    "QZ2BRM": "Bram Okoye",
    "QZ2CLE": "Cleo Marsh",
}
ON_THE_ROLL = ("QZ2ADA", "QZ2BRM", "QZ2CLE")


def prepare() -> None:
    """Five members, a relay, a net, and sessions that all began five minutes ago; prints everybody's login."""
    cookies = {call_sign: enrol(call_sign, name) for call_sign, name in PEOPLE.items()}
    User.objects.get(username="qz2mgr").groups.add(Group.objects.get(name=NET_MANAGER))
    net = make_net()
    began = timezone.now() - dt.timedelta(minutes=5)
    control = Member.objects.get(call_sign="QZ2NCS")
    for day in range(EVENINGS):
        date = FIRST_DATE + dt.timedelta(days=day)
        ends_at = began + dt.timedelta(hours=1)
        session = Session.objects.create(net=net, occurrence_date=date, starts_at=began, ends_at=ends_at)
        Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=control)
        for call_sign in ON_THE_ROLL:
            rollcall.add(session, call_sign, by="QZ2NCS")
    print(json.dumps(cookies))


def enrol(call_sign: str, name: str) -> str:
    """Make a member with a login, and log in; the session cookie."""
    user = User.objects.create_user(call_sign.lower())
    Member.objects.create(call_sign=call_sign, name=name, user=user, takes_the_chair=True)
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client.cookies["sessionid"].value


def make_net() -> Net:
    place = Site.objects.create(
        name="High Ridge", slug="high-ridge", latitude_deg=36.4847, longitude_deg=-84.2308
    )
    relay = Relay.objects.create(
        site=place,
        name="Ridge 2 m",
        slug="ridge-2m",
        call_sign="QZ2RLY",
        output_mhz="146.730",
        input_mhz="146.130",
    )
    return Net.objects.create(
        name="Ridge Net",
        slug="ridge-net",
        relay=relay,
        first_date=FIRST_DATE,
        start_time=dt.time(19, 30),
        zone="America/New_York",
        script="Good evening.\nIs the frequency clear?",
    )


def open_the_log(evening: str) -> None:
    session = Session.objects.get(occurrence_date=evening)
    keeping.open_log(session, by="QZ2NCS", now=timezone.now())


def serve(port: str) -> None:
    run("127.0.0.1", int(port), StaticFilesHandler(get_internal_wsgi_application()), threading=True)


if __name__ == "__main__":
    {"prepare": prepare, "open": open_the_log, "serve": serve}[sys.argv[1]](*sys.argv[2:])
