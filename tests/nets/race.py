"""Run in a process of its own on a database of its own: `race.py ROUNDS`. Prints one line of JSON.

Threads that begin at once: two managers save two new nets for one relay and one hour; two move a session each to one
time; one edits a net while another adds one; two give one person a chair each. Each round tells who was let through.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clubops.settings")

import django

django.setup()

from django.db import connection, transaction  # noqa: E402

from clubops.members.models import Member  # noqa: E402
from nets import departures, duties, rule_changes, schedule  # noqa: E402
from nets.forms import NetForm  # noqa: E402
from nets.models import Net, Session  # noqa: E402
from relays.models import Relay, Site  # noqa: E402

NOW = dt.datetime(2026, 3, 3, 12, tzinfo=dt.UTC)
Act = Callable[[], str]


def ridge() -> Relay:
    site = Site.objects.create(
        name="High Ridge", slug="high-ridge", latitude_deg=36.4847, longitude_deg=-84.2308
    )
    return Relay.objects.create(
        site=site,
        name="Ridge 2 m",
        slug="ridge-2m",
        call_sign="QZ2RLY",
        output_mhz="146.730",
        input_mhz="146.130",
    )


def fields(relay: Relay | None, name: str, **changes: object) -> dict[str, object]:
    return {
        "name": name, "pattern": "weekly", "every": "1", "days": ["WE"], "start_time": "20:00",
        "zone": "America/New_York", "duration_min": "60", "first_date": "2026-03-04", "minimum_margin_db": "6",
        "minimum_probability": "0.8", "is_active": "on", "relay": relay.pk if relay else "", "simplex_mhz": "",
    } | changes  # fmt: skip


def save(relay: Relay | None, name: str, net: Net | None = None, **changes: object) -> str:
    """What the page of a net does with a form."""
    with transaction.atomic():
        form = NetForm(fields(relay, name, **changes), instance=net, now=NOW, looking=False)
        if not form.is_valid():
            return str(form.errors.as_json())
        rule_changes.adopt(form.save(commit=False), now=NOW)
    return "saved"


def move(session: Session, wall: dt.datetime) -> str:
    try:
        departures.move(session, wall=wall, now=NOW)
    except departures.DepartureRefused as refusal:
        return str(refusal)
    return "saved"


def at_once(*acts: Act) -> list[str]:
    """Run every act in a thread with a connection of its own, all let go together."""
    gate = Barrier(len(acts))

    def run(act: Act) -> str:
        try:
            connection.ensure_connection()
            gate.wait()
            return act()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        return list(pool.map(run, acts))


def two_new_nets(relay: Relay) -> list[str]:
    return at_once(lambda: save(relay, "One"), lambda: save(relay, "Two"), lambda: save(relay, "Three"))


def two_moved_sessions(relay: Relay) -> list[str]:
    for name, day in (("One", "MO"), ("Two", "FR")):
        save(relay, name, days=[day])
    first = [net.sessions.order_by("starts_at")[0] for net in Net.objects.order_by("name")]
    to = dt.datetime(2026, 3, 12, 20)
    return at_once(*(lambda row=row: move(row, to) for row in first))


def an_edit_and_a_new_net(relay: Relay) -> list[str]:
    save(relay, "One", days=["MO"])
    net = Net.objects.get()
    with transaction.atomic():
        asked = NetForm(
            fields(relay, "One", first_date="2026-03-09"), instance=Net.objects.get(), now=NOW, looking=True
        )
        assert asked.is_valid()
    agree = asked.foretold.digest
    return at_once(
        lambda: save(relay, "One", net, first_date="2026-03-09", agree=agree), lambda: save(relay, "Two")
    )


def two_chairs_of_one_person(relay: Relay) -> list[str]:
    for name, frequency in (("One", "146.550"), ("Two", "146.580")):
        save(None, name, simplex_mhz=frequency)
    Member.objects.filter(call_sign="QZ2NCS").delete()
    member = Member.objects.create(call_sign="QZ2NCS", name="N")
    first = [net.sessions.order_by("starts_at")[0] for net in Net.objects.order_by("name")]
    return at_once(*(lambda row=row: assign(row, member) for row in first))


def assign(session: Session, member: Member) -> str:
    try:
        duties.assign(duties.Chair(session, "net_control", member, None), now=NOW)
    except duties.DutyRefused as refusal:
        return refusal.sentence
    return "saved"


def main(rounds: int) -> None:
    relay = ridge()
    told: dict[str, list[list[str]]] = {}
    for race in (two_new_nets, two_moved_sessions, an_edit_and_a_new_net, two_chairs_of_one_person):
        for _ in range(rounds):
            Net.objects.all().delete()
            told.setdefault(race.__name__, []).append(race(relay))
    print(json.dumps({"vendor": connection.vendor, "lock": schedule.lock.__name__, "told": told}))


if __name__ == "__main__":
    main(int(sys.argv[1]))
