"""Run in a process of its own, on the database that CLUBOPS_DATABASE_URL names: `race.py VERB TIMES`.

Two threads begin at once, each with a database connection of its own. Prints one line of JSON.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402

from clubops.members.models import Member  # noqa: E402
from nets import schedule, swaps  # noqa: E402
from nets.models import Duty, Net, RotaDraft, Session, SwapOffer, TurnWish  # noqa: E402
from nets.rota import draft as drafts  # noqa: E402
from nets.rota import publishing  # noqa: E402

NOW = dt.datetime(2026, 3, 3, 12, tzinfo=dt.UTC)


def in_two_threads(verb: Callable[[int], object]) -> list[object]:
    start = Barrier(2)

    def one(number: int) -> object:
        try:
            start.wait()
            return verb(number)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(one, range(2)))


def make_club() -> tuple[Net, list[Member]]:
    """A net without a relay, so that no path is asked for, and four people."""
    net = Net.objects.create(
        name="Simplex Net",
        slug="simplex-net",
        simplex_mhz="146.550",
        first_date=dt.date(2026, 2, 10),
        start_time=dt.time(19, 30),
        zone="America/New_York",
    )
    schedule.plan_sessions(net, now=NOW, weeks=30)
    people = [
        Member.objects.create(
            call_sign=f"QZ3{letter * 3}", name=letter, takes_the_chair=True, is_experienced=True
        )
        for letter in "ABCD"
    ]
    return net, people


def accept(times: int) -> dict[str, list[object]]:
    """Two people accept one offer at the same moment, again and again: who said they won, who has the chair."""
    net, (giver, *takers, _spare) = make_club()
    sessions = list(net.sessions.order_by("starts_at")[:times])
    said, sits = [], []
    for session in sessions:
        duty = Duty.objects.create(session=session, role="net_control", member=giver)
        offer = swaps.offer(duty, now=NOW)

        def take(number: int, offer: SwapOffer = offer) -> str:
            try:
                swaps.accept(SwapOffer.objects.get(pk=offer.pk), by=takers[number], now=NOW)
            except swaps.SwapRefused as refusal:
                return str(refusal)
            return takers[number].call_sign

        said.append(in_two_threads(take))
        sits.append(list(Duty.objects.filter(session=session).values_list("member__call_sign", flat=True)))
    return {"said": said, "sits": sits}


def cross(times: int) -> dict[str, list[object]]:
    """Two exchanges of the same two chairs, in opposite order: whoever waits must not wait in a ring."""
    net, (one, other, *_rest) = make_club()
    sessions = list(net.sessions.order_by("starts_at"))
    said, sits = [], []
    for first, second in zip(sessions[: 2 * times : 2], sessions[1 : 2 * times : 2], strict=True):
        mine = Duty.objects.create(session=first, role="net_control", member=one)
        theirs = Duty.objects.create(session=second, role="net_control", member=other)
        offers = [
            swaps.offer(mine, to=other, in_return=theirs, now=NOW),
            swaps.offer(theirs, to=one, in_return=mine, now=NOW),
        ]

        def take(number: int, offers: list[SwapOffer] = offers) -> str:
            try:
                swaps.accept(offers[number], by=(other, one)[number], now=NOW)
            except swaps.SwapRefused as refusal:
                return str(refusal)
            return "done"

        said.append(in_two_threads(take))
        rows = Duty.objects.filter(session__in=[first, second]).order_by("session__starts_at")
        sits.append(list(rows.values_list("member__call_sign", flat=True)))
    return {"said": said, "sits": sits}


def gap(times: int) -> dict[str, list[object]]:
    """One person, who asks for 14 days between turns, takes the turns of two weeks running at one moment."""
    net, (giver, taker, *_rest) = make_club()
    TurnWish.objects.create(member=taker, minimum_gap_days=14)
    sessions = list(net.sessions.order_by("starts_at"))[:2]
    said, sits = [], []
    for _ in range(times):
        Duty.objects.all().delete()
        rows = [Duty.objects.create(session=each, role="net_control", member=giver) for each in sessions]
        offers = [swaps.offer(row, now=NOW) for row in rows]

        def take(number: int, offers: list[SwapOffer] = offers) -> str:
            try:
                swaps.accept(offers[number], by=taker, now=NOW)
            except swaps.SwapRefused as refusal:
                return str(refusal)
            return "done"

        said.append(in_two_threads(take))
        sits.append(sorted(Duty.objects.values_list("member__call_sign", flat=True)))
        for each in offers:
            SwapOffer.objects.filter(pk=each.pk).delete()
    return {"said": said, "sits": sits}


def publish(times: int) -> dict[str, object]:
    """Two managers publish one draft at the same moment."""
    net, _people = make_club()
    draft = drafts.ask(RotaDraft(net=net, weeks=times), by=None, now=NOW)
    drafts.work_out(draft, now=NOW)
    said = in_two_threads(lambda _n: publishing.publish(RotaDraft.objects.get(pk=draft.pk), by=None, now=NOW))
    duties = Duty.objects.count()
    return {"said": said, "duties": duties, "sequences": sum(Duty.objects.values_list("sequence", flat=True))}


if __name__ == "__main__":
    verb, times = sys.argv[1], int(sys.argv[2])
    call_command("migrate", verbosity=0)
    assert not Session.objects.exists(), "an empty database was to be named"
    print(json.dumps(globals()[verb](times)))
