"""Planning an outage: look at what it cuts off, save, change, end, call off; and what others see of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from nets.models import Duty, Session
from relays.models import Outage, Relay
from tests.conftest import NOW, Cast, make_station
from tests.nets.conftest import another
from tests.test_permissions import READERS

HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)


@pytest.fixture(autouse=True)
def tuesday():
    with time_machine.travel(NOW, tick=False):
        yield


def typed(on: Relay, **fields: str) -> dict[str, str]:
    """The evening of Tuesday's session, by New York's clocks."""
    given = {
        "relay": str(on.pk), "kind": "planned", "effect": "off_air", "from_date": "2026-03-03",
        "from_time": "18:30", "until_date": "2026-03-03", "until_time": "22:00", "reason": "New antenna",
    }  # fmt: skip
    return given | fields


def look(browser: Client, on: Relay, **fields: str):
    return browser.post(reverse("nets:new_outage"), typed(on, **fields))


def save(browser: Client, on: Relay, **fields: str):
    """Look, then press the second button."""
    seen = look(browser, on, **fields).context["stamp"]
    return browser.post(reverse("nets:new_outage"), typed(on, **fields) | {"save": "1", "seen": seen})


@pytest.fixture
def planned(relay: Relay, session: Session) -> Outage:
    return Outage.objects.create(
        relay=relay,
        starts_at=session.starts_at - HOUR,
        ends_at=session.ends_at + HOUR,
        reason="New antenna",
    )


def test_looking_shows_what_it_cuts_off_and_saves_nothing(
    as_reader, relay, session: Session, cast: Cast, ground
) -> None:
    Duty.objects.create(
        session=session, role="net_control", member=cast.net_control, station=make_station(cast.net_control)
    )
    page = look(as_reader("steward"), relay).content.decode()
    assert "Ridge Net" in page
    assert "QZ2NCS" in page
    assert not Outage.objects.exists()


def test_what_was_looked_at_is_saved(as_reader, relay, session, cast: Cast, ground) -> None:
    save(as_reader("steward"), relay)
    outage = Outage.objects.get()
    # 18:30 in New York, where it is still winter time.
    assert outage.starts_at == dt.datetime(2026, 3, 3, 23, 30, tzinfo=dt.UTC)
    assert (outage.relay, outage.reported_by) == (relay, cast.steward)


def test_other_times_than_those_looked_at_are_looked_at_first(as_reader, relay, session, ground) -> None:
    browser = as_reader("steward")
    seen = look(browser, relay).context["stamp"]
    changed = typed(relay, until_time="23:00") | {"save": "1", "seen": seen}
    response = browser.post(reverse("nets:new_outage"), changed)
    assert not Outage.objects.exists()
    assert response.context["impact"] is not None


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"until_time": "18:00"}, "It would end before it has begun"),
        ({"until_date": "2027-03-03"}, "more than 60 days"),
        ({"from_date": "2026-03-01"}, "That is past"),
        ({"until_date": "", "until_time": ""}, "A planned outage has an end"),
        ({"until_time": ""}, "Give both the date and the time"),
        ({"from_time": "25:99"}, "From, time: "),
        ({"relay": "999"}, "Relay: "),
        ({"reason": " "}, "Why: "),
        ({"from_date": "99999-01-01"}, "From, date: "),
    ],
)
def test_bad_input_is_refused_in_a_sentence(as_reader, relay, fields, sentence) -> None:
    response = look(as_reader("steward"), relay, **fields)
    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert not Outage.objects.exists()


def test_one_over_another_is_refused_when_it_is_looked_at(as_reader, relay, planned) -> None:
    response = look(as_reader("steward"), relay)
    assert response.status_code == 422
    assert "has an outage in that time already" in response.content.decode()


def test_a_time_that_the_clocks_skip_is_said(as_reader, relay, ground) -> None:
    """On 8 March New York goes from 2:00 to 3:00."""
    page = look(
        as_reader("steward"), relay, from_date="2026-03-08", from_time="02:30", until_date="2026-03-08"
    )
    assert page.context["notes"]
    assert page.context["form"].terms.starts_at == dt.datetime(2026, 3, 8, 7, 30, tzinfo=dt.UTC)


def test_an_edit_that_changes_nothing_keeps_its_instants(as_reader, relay) -> None:
    start = dt.datetime(2026, 11, 1, 6, 30, tzinfo=dt.UTC)  # 1:30 in New York for the second time
    outage = Outage.objects.create(relay=relay, starts_at=start, ends_at=start + HOUR, reason="Fan")
    address = reverse("nets:edit_outage", args=[outage.pk])
    browser = as_reader("steward")
    form = browser.get(address).context["form"]
    data = {name: form.get_initial_for_field(field, name) or "" for name, field in form.fields.items()}
    seen = browser.post(address, data).context["stamp"]
    browser.post(address, data | {"save": "1", "seen": seen})
    outage.refresh_from_db()
    assert (outage.starts_at, outage.sequence) == (start, 0)


@pytest.mark.parametrize("who", READERS)
def test_only_stewards_end_one_and_call_one_off(who: str, as_reader, planned: Outage, relay) -> None:
    running = Outage.objects.create(relay=relay, starts_at=NOW - HOUR, kind="unplanned", reason="Storm")
    browser: Client = as_reader(who)
    browser.post(reverse("nets:end_outage", args=[running.pk]))
    browser.post(reverse("nets:call_off_outage", args=[planned.pk]))
    running.refresh_from_db()
    planned.refresh_from_db()
    may = who in {"steward", "officer"}
    assert (running.ends_at is not None, planned.is_called_off) == (may, may)


def test_ending_one_that_is_still_ahead_is_refused(as_reader, planned: Outage) -> None:
    response = as_reader("steward").post(reverse("nets:end_outage", args=[planned.pk]), follow=True)
    assert "had not begun by then" in response.content.decode()


@pytest.mark.parametrize("who", READERS)
def test_names_are_for_those_who_can_do_something(
    who: str, as_reader: Callable[[str], Client], planned: Outage, session: Session, cast: Cast, ground
) -> None:
    Duty.objects.create(session=session, role="net_control", member=cast.net_control)
    page = as_reader(who).get(reverse("nets:outage", args=[planned.pk])).content.decode()
    assert "New antenna" in page
    assert ("What it cuts off" in page) == (who in {"steward", "net manager", "officer"})


def test_the_relays_page_and_list_say_that_it_is_silent(as_reader, relay: Relay) -> None:
    Outage.objects.create(relay=relay, starts_at=NOW - HOUR, ends_at=NOW + HOUR, reason="New antenna")
    for address in (reverse("relays:list"), reverse("relays:page", args=[relay.slug])):
        assert ">until Tuesday 3 March 2026, 08:00" in as_reader("outsider").get(address).content.decode()


def test_a_session_is_moved_from_the_page(
    as_reader, planned: Outage, session: Session, relay: Relay, cast: Cast, ground
) -> None:
    other = another(relay, "valley-2m", name="Valley 2 m")
    page = as_reader("net manager").get(reverse("nets:outage", args=[planned.pk])).content.decode()
    assert "Move it here" in page
    as_reader("net manager").post(
        reverse("nets:change_session", args=["ridge-net", "2026-03-03"]), {"what": "relay", "relay": other.pk}
    )
    session.refresh_from_db()
    assert session.relay == other


def test_a_session_is_not_moved_on_to_a_relay_that_is_silent_then(
    as_reader, session: Session, relay: Relay, ground
) -> None:
    other = another(relay, "valley-2m", name="Valley 2 m")
    Outage.objects.create(relay=other, starts_at=NOW, ends_at=NOW + 2 * DAY, reason="Fan")
    response = as_reader("net manager").post(
        reverse("nets:change_session", args=["ridge-net", "2026-03-03"]), {"what": "relay", "relay": other.pk}
    )
    assert response.status_code == 422
    assert "Valley 2 m is off the air at that time (Fan)" in response.content.decode()
