"""Every address of the site against every kind of reader: a matrix, so that a new page cannot be forgotten."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from clubops.members.models import Station
from nets.models import Absence, Duty, FeedKey, Session
from relays.models import Outage, ReadingKind, Relay, Site, UpkeepTask
from tests.conftest import NOW, Cast, make_station

READERS = ("outsider", "member", "net control", "steward", "net manager", "officer")
OPEN = dict.fromkeys(READERS, "opens")
MEMBERS = OPEN | {"outsider": "log in"}
MANAGERS = MEMBERS | {"member": "refused", "net control": "refused", "steward": "refused"}
STEWARDS = MEMBERS | {"member": "refused", "net control": "refused", "net manager": "refused"}
POST_ONLY = dict.fromkeys(READERS, "post only")
OWN_STATION = dict.fromkeys(READERS, "unknown") | {"outsider": "log in", "member": "opens"}

# What a GET gives each reader. The station, the duty and the absence belong to "member".
PAGES: dict[str, tuple[dict[str, str], dict[str, str]]] = {
    "nets:home": ({}, OPEN),
    "nets:start": ({}, OPEN),
    "nets:card": ({}, OPEN),
    "nets:list": ({}, OPEN),
    "nets:page": ({"slug": "ridge-net"}, OPEN),
    "nets:session": ({"slug": "ridge-net", "date": "2026-03-03"}, MEMBERS),
    "nets:chair": ({"slug": "ridge-net", "date": "2026-03-03", "role": "net_control"}, MANAGERS),
    "nets:new_net": ({}, MANAGERS),
    "nets:conflicts": ({}, MANAGERS),
    "nets:edit_net": ({"slug": "ridge-net"}, MANAGERS),
    "nets:extra_session": ({"slug": "ridge-net"}, MANAGERS),
    "nets:change_session": ({"slug": "ridge-net", "date": "2026-03-03"}, MANAGERS),
    "nets:my_duties": ({}, MEMBERS),
    "nets:outages": ({}, OPEN),
    "nets:new_outage": ({}, STEWARDS),
    "nets:outage": ({"pk": "outage"}, OPEN),
    "nets:edit_outage": ({"pk": "outage"}, STEWARDS),
    "relays:list": ({}, OPEN),
    "relays:page": ({"slug": "ridge-2m"}, OPEN),
    "relays:path": ({}, OPEN),
    "relays:map": ({}, OPEN),
    "relays:coverage": ({}, STEWARDS),
    "relays:upkeep": ({}, MEMBERS),
    "relays:upkeep_file": ({}, STEWARDS),
    "relays:upkeep_task": ({"pk": "task"}, MEMBERS),
    "relays:upkeep_reading": ({"pk": "meter"}, MEMBERS),
    "relays:upkeep_renewals": ({}, STEWARDS),
    "relays:upkeep_keys": ({}, STEWARDS),
    "relays:new_station": ({}, MEMBERS),
    "relays:station": ({"pk": "station"}, OWN_STATION),
    "members:me": ({}, MEMBERS),
    "nets:calendars": ({}, OPEN),
    "nets:robots": ({}, OPEN),
    "notices:mine": ({}, MEMBERS),
}


def outcome(client: Client, address: str) -> str:
    response = client.get(address)
    if response.status_code == 302 and response["Location"].startswith("/login/"):
        return "log in"
    return {200: "opens", 403: "refused", 404: "unknown", 405: "post only"}.get(
        response.status_code, str(response.status_code)
    )


@pytest.fixture
def scene(session: Session, cast: Cast) -> dict[str, int]:
    """One row of everything that an address can name."""
    station = make_station(cast.member)
    duty = Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.member)
    absence = Absence.objects.create(
        member=cast.member, first_date=session.occurrence_date, last_date=session.occurrence_date
    )
    task = UpkeepTask.objects.create(
        site=Site.objects.get(), name="Battery", every=3, first_due_on=session.occurrence_date
    )
    meter = ReadingKind.objects.create(task=task, name="Voltage", unit="V")
    outage = Outage.objects.create(relay=Relay.objects.get(), starts_at=NOW, kind="unplanned", reason="Storm")
    rows = {
        "outage": outage,
        "station": station,
        "duty": duty,
        "absence": absence,
        "task": task,
        "meter": meter,
    }
    return {name: row.pk for name, row in rows.items()}


@pytest.mark.parametrize("who", READERS)
@pytest.mark.parametrize("name", PAGES)
def test_each_page_opens_to_the_right_readers(
    name: str, who: str, scene: dict[str, int], as_reader: Callable[[str], Client]
) -> None:
    arguments, expected = PAGES[name]
    address = reverse(name, kwargs={key: scene.get(value, value) for key, value in arguments.items()})
    assert outcome(as_reader(who), address) == expected[who]


@pytest.mark.parametrize("who", READERS)
def test_only_its_owner_answers_a_duty(
    who: str, scene: dict[str, int], as_reader: Callable[[str], Client]
) -> None:
    with time_machine.travel(NOW, tick=False):
        as_reader(who).post(reverse("nets:answer", args=[scene["duty"]]), {"answer": "yes"})
    confirmed = Duty.objects.get().state == Duty.State.CONFIRMED
    assert confirmed == (who == "member")


@pytest.mark.parametrize("who", READERS)
def test_only_its_owner_removes_an_absence(
    who: str, scene: dict[str, int], as_reader: Callable[[str], Client]
) -> None:
    as_reader(who).post(reverse("nets:remove_absence", args=[scene["absence"]]))
    assert Absence.objects.exists() == (who != "member")


@pytest.mark.parametrize("who", READERS)
def test_only_its_owner_removes_a_station(
    who: str, scene: dict[str, int], as_reader: Callable[[str], Client]
) -> None:
    as_reader(who).post(reverse("relays:remove_station", args=[scene["station"]]))
    assert Station.objects.exists() == (who != "member")


@pytest.mark.parametrize("who", READERS)
def test_a_new_calendar_address_is_the_readers_own(
    who: str, scene: dict[str, int], cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    as_reader(who).post(reverse("nets:new_calendar_address"))
    assert [key.member for key in FeedKey.objects.all()] == ([cast.readers[who]] if who != "outsider" else [])


@pytest.mark.parametrize("who", READERS)
def test_an_alarm_is_set_in_the_readers_own_calendar(
    who: str, scene: dict[str, int], cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    keys = {member: FeedKey.objects.create(member=member) for member in cast.readers.values() if member}
    as_reader(who).post(reverse("nets:calendar_alarm"), {"minutes": "60"})
    changed = [member for member in keys if member.feed_keys.get().alarm_before_min == 60]
    assert changed == ([cast.readers[who]] if who != "outsider" else [])


@pytest.mark.parametrize("who", READERS)
def test_only_net_managers_fill_a_chair(
    who: str, session: Session, ground: object, cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    make_station(cast.net_control)
    address = reverse("nets:chair", args=["ridge-net", "2026-03-03", "backup"])
    as_reader(who).post(address, {"member": cast.net_control.pk})
    assert Duty.objects.exists() == (who in {"net manager", "officer"})


OFFICE = {
    "members_member": {"officer"},
    "members_station": {"officer"},
    "members_user": {"officer"},
    "members_licenceclass": {"officer"},
    "relays_site": {"officer", "steward", "net manager"},
    "relays_relay": {"officer", "steward", "net manager"},
    "relays_pathverdict": {"officer"},
    "relays_coveragerun": {"officer", "steward", "net manager"},
    "relays_outage": {"officer", "steward", "net manager"},
    "relays_upkeeptask": {"officer", "steward", "net manager"},
    "relays_keyholder": {"officer", "steward"},
    "relays_renewal": {"officer", "steward"},
    "nets_net": {"officer", "net manager"},
    "nets_duty": {"officer", "net manager"},
    "nets_feedkey": {"officer"},
    "notices_notice": {"officer", "net manager"},
}


@pytest.mark.parametrize("who", READERS)
@pytest.mark.parametrize("model", OFFICE)
def test_the_office_shows_each_role_its_own_work(
    model: str, who: str, cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    response = as_reader(who).get(reverse(f"admin:{model}_changelist"))
    assert (response.status_code == 200) == (who in OFFICE[model])


def addresses(resolver: URLResolver, spaces: tuple[str, ...] = ()) -> Iterator[str]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from addresses(entry, (*spaces, entry.namespace) if entry.namespace else spaces)
        elif isinstance(entry, URLPattern) and entry.name:
            yield ":".join((*spaces, entry.name))


# Addresses whose readers are tested beside the page itself, and what they are.
ELSEWHERE = {
    "nets:answer", "nets:duty_station", "nets:remove_absence", "relays:remove_station", "nets:new_calendar_address",
    "nets:calendar_alarm",
    # tests/nets/test_outage_pages.py
    "nets:end_outage", "nets:call_off_outage",
    # tests/feeds/test_serving.py, tests/feeds/test_secrets.py
    "nets:club_feed", "nets:net_feed", "nets:relay_feed", "nets:member_feed",
    "nets:club_feed_alarms", "nets:net_feed_alarms", "nets:relay_feed_alarms",
    "nets:answer_by_link", "notices:unsubscribe", "health",
    # tests/coverage/test_who_may.py
    "relays:relief", "relays:loss", "relays:loss_file", "relays:picture", "relays:outlines", "relays:point",
    "relays:ask_coverage", "relays:cancel_coverage", "relays:coverage_again",
    # tests/upkeep/test_pages.py
    "relays:upkeep_key_back",
    # tests/rota/test_permissions.py
    "nets:rota", "nets:rota_wishes", "nets:rota_fill", "nets:rota_drafts", "nets:rota_draft", "nets:rota_publish",
    "nets:rota_discard", "nets:swaps", "nets:swap_offer", "nets:swap_settle", "nets:swap_substitutes",
    "nets:swap_hand_over",
    # tests/log/test_who_may.py
    "nets:log", "nets:log_state", "nets:log_roll", "nets:log_entries", "nets:log_names", "nets:log_worker",
    "nets:log_import", "nets:log_entry", "nets:report", "nets:comms_log", "nets:report_file", "nets:statistics",
    "login", "logout", "password_change", "password_change_done", "cautions",
}  # fmt: skip


def test_no_address_is_left_out() -> None:
    known = set(PAGES) | ELSEWHERE
    assert {name for name in addresses(get_resolver()) if not name.startswith("admin:")} <= known
