"""Planning on the club's pages and in the office, without scripts: look, be asked once, save; nothing typed is lost."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from clubops import clock
from nets import schedule
from nets.models import Duty, EarlierRule, Net, Session
from relays.models import Relay
from tests.conftest import DEEP_HOLLOW, NOW, Cast, make_station
from tests.nets.test_net_form import typed

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def frozen() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def manager(as_reader: Callable[[str], Client]) -> Client:
    return as_reader("net manager")


def text(response: Any) -> str:
    """The page as read: no tags, single spaces."""
    return " ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split())


def edited(net: Net, **changes: Any) -> dict[str, Any]:
    """The form of a net as the page offers it, with changes."""
    values = {
        "name": net.name,
        "days": ["TU"],
        "start_time": "19:30",
        "duration_min": "60",
        "first_date": "2026-03-03",
    }
    return typed(net.relay, **(values | changes))


# A new net -----------------------------------------------------------------------------------------


def test_looking_shows_words_and_six_dates_with_utc_and_saves_nothing(manager: Client, relay: Relay) -> None:
    page = manager.post(reverse("nets:new_net"), typed(relay, days=["SU"], start_time="02:30", look="yes"))
    said = text(page)
    assert page.status_code == 200
    assert "It meets every Sunday at 02:30 , New York time." in said
    # New York 2026: 8 March is the spring change, so 02:30 does not exist and 03:30 is 07:30 UTC (tzdata).
    assert "Sun 8 March 2026 Clocks in America/New_York go forward past 02:30 on 8 March 2026;" in said
    assert "Sun 15 March 2026 02:30 06:30 UTC" in said
    assert said.count("UTC") >= 6
    assert not Net.objects.exists()


def test_what_was_typed_stays_when_looking(manager: Client, relay: Relay) -> None:
    page = manager.post(
        reverse("nets:new_net"), typed(relay, name="Évening & Net", look="yes")
    ).content.decode()
    assert 'value="Évening &amp; Net"' in page
    assert re.search(r'<input[^>]*name="days"[^>]*value="WE"[^>]*checked', page)


def test_saving_makes_the_net_and_its_sessions(manager: Client, relay: Relay) -> None:
    page = manager.post(reverse("nets:new_net"), typed(relay, save="yes"), follow=True)
    net = Net.objects.get(name="Valley Net")
    assert "Valley Net is saved: every Wednesday at 20:00." in text(page)
    assert net.sessions.count() == 12


def test_the_living_preview_is_the_preview_alone(manager: Client, relay: Relay) -> None:
    page = manager.post(reverse("nets:new_net"), typed(relay), headers={"HX-Request": "true"})
    assert "<html" not in page.content.decode()
    assert "every Wednesday at 20:00" in text(page)


def test_the_preview_needs_only_what_it_is_made_of(manager: Client) -> None:
    page = manager.post(reverse("nets:new_net"), typed(name="", simplex_mhz="", look="yes"))
    assert page.status_code == 422
    assert "It meets every Wednesday at 20:00" in text(page)


def test_a_first_date_that_does_not_fit_is_told(manager: Client, relay: Relay) -> None:
    page = manager.post(reverse("nets:new_net"), typed(relay, first_date="2026-03-05", look="yes"))
    assert (
        "5 March 2026 is a Thursday, on which it does not meet: the first session is on Wednesday 11"
        in text(page)
    )


def test_a_wrong_form_keeps_everything_and_saves_nothing(manager: Client, relay: Relay) -> None:
    given = typed(relay, zone="America/New_Yrok", script="Good evening.", save="yes")
    page = manager.post(reverse("nets:new_net"), given)
    assert page.status_code == 422
    assert "Did you mean America/New_York?" in text(page)
    assert 'value="America/New_Yrok"' in page.content.decode()
    assert "Good evening." in text(page)
    assert not Net.objects.exists()


# Changing a net ------------------------------------------------------------------------------------


def test_saving_a_change_asks_once_and_then_does_it(
    manager: Client, net: Net, session: Session, cast: Cast
) -> None:
    Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    address = reverse("nets:edit_net", args=["ridge-net"])
    asked = manager.post(address, edited(net, days=["TH"], save="yes"))
    assert asked.status_code == 422
    assert "1 duty will be called off: QZ2NCS, net control on Tuesday 3 March 2026." in text(asked)
    assert not EarlierRule.objects.exists()
    found = re.search(r'name="agree" value="([0-9a-f]{16})"', asked.content.decode())
    assert found
    done = manager.post(address, edited(net, days=["TH"], save="yes", agree=found[1]))
    assert done.status_code == 302
    net.refresh_from_db()
    assert net.rule == "FREQ=WEEKLY;BYDAY=TH"
    assert net.earlier_rules.get().last_date == dt.date(2026, 3, 2)


def test_the_page_of_a_net_tells_of_a_change_to_come(
    manager: Client, client: Client, net: Net, session: Session
) -> None:
    given = edited(net, days=["TH"], first_date="2026-04-01", look="yes")
    address = reverse("nets:edit_net", args=["ridge-net"])
    found = re.search(r'name="agree" value="([0-9a-f]{16})"', manager.post(address, given).content.decode())
    assert found
    del given["look"]
    manager.post(address, given | {"save": "yes", "agree": found[1]})
    said = text(client.get(reverse("nets:page", args=["ridge-net"])))
    assert "every Tuesday at 19:30 until 31 March 2026; then every Thursday at 19:30" in said


def test_editing_nothing_is_asked_nothing(manager: Client, net: Net, session: Session) -> None:
    page = manager.post(reverse("nets:edit_net", args=["ridge-net"]), edited(net, script="New.", save="yes"))
    assert page.status_code == 302
    assert not EarlierRule.objects.exists()


def test_a_conflict_that_is_there_stands_beside_the_form(
    manager: Client, net: Net, session: Session, relay: Relay
) -> None:
    relay.status = Relay.Status.OFF_AIR
    relay.save()
    said = text(manager.get(reverse("nets:edit_net", args=["ridge-net"])))
    assert "Ridge Net is to meet on Ridge 2 m on Tuesday 3 March 2026" in said
    assert "Way out." in said


# One session ---------------------------------------------------------------------------------------


def change(client: Client, what: str, follow: bool = True, **values: Any) -> Any:
    address = reverse("nets:change_session", args=["ridge-net", "2026-03-03"])
    return client.post(address, {"what": what} | values, follow=follow)


def test_net_managers_find_the_changes_on_the_page_of_the_session(
    manager: Client, session: Session, as_reader: Callable[[str], Client]
) -> None:
    address = reverse("nets:session", args=["ridge-net", "2026-03-03"])
    assert "Call this session off" in text(manager.get(address))
    assert "Call this session off" not in text(as_reader("member").get(address))


def test_a_session_moved_into_the_gap_is_told_so(manager: Client, session: Session) -> None:
    said = text(change(manager, "move", date="2026-03-08", time="02:30"))
    assert "Moved to Sunday 8 March 2026, 03:30 New York time." in said
    assert "Clocks in America/New_York go forward past 02:30 on 8 March 2026; it starts at 03:30" in said


def test_a_refused_move_stands_with_what_was_typed(manager: Client, session: Session, relay: Relay) -> None:
    Net.objects.create(
        name="Late",
        slug="late",
        relay=relay,
        rule="FREQ=DAILY",
        first_date=dt.date(2026, 3, 4),
        start_time=dt.time(21),
    )
    page = change(manager, "move", date="2026-03-05", time="21:15")
    assert page.status_code == 422
    assert "Ridge Net and Late would both be on Ridge 2 m on Thursday 5 March 2026 at 21:15" in text(page)
    assert 'value="21:15"' in page.content.decode()
    session.refresh_from_db()
    assert session.moved_to is None


def test_called_off_and_put_back(manager: Client, session: Session) -> None:
    said = text(change(manager, "call-off", reason="Ice on the mast."))
    assert "This session is called off. Ice on the mast." in said
    assert "The session will take place after all." in text(change(manager, "put-back"))


def test_another_relay_tells_who_has_no_path_to_it(
    manager: Client, session: Session, relay: Relay, cast: Cast, ground: object
) -> None:
    weak = Relay.objects.get(pk=relay.pk)
    weak.pk, weak.name, weak.slug, weak.power_w, weak.antenna_gain_dbi = None, "Weak", "weak", 0.001, -30
    weak.save()
    station = make_station(cast.net_control)
    Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control, station=station)
    said = text(change(manager, "relay", relay=weak.pk))
    assert "This session is on Weak." in said
    assert "QZ2NCS, net control of Ridge Net, has no usable path on Tuesday 3 March 2026" in said


def test_an_unknown_change_is_no_change(manager: Client, session: Session) -> None:
    assert change(manager, "explode").status_code == 404


def test_once_begun_nothing_is_offered(manager: Client, session: Session) -> None:
    with time_machine.travel(session.starts_at, tick=False):
        assert "history" in text(
            manager.get(reverse("nets:change_session", args=["ridge-net", "2026-03-03"]))
        )
        refused = change(manager, "call-off", reason="Too late now.")
    assert refused.status_code == 422
    assert "began on Tuesday 3 March 2026" in text(refused)


def test_an_extra_session(manager: Client, net: Net, session: Session) -> None:
    address = reverse("nets:extra_session", args=["ridge-net"])
    said = text(
        manager.post(address, {"date": "2026-03-07", "time": "10:00", "note": "Field day."}, follow=True)
    )
    assert "An extra session is planned on Saturday 7 March 2026." in said
    refused = manager.post(address, {"date": "2026-03-10", "time": "10:00"})
    assert refused.status_code == 422
    assert "has a session of 10 March 2026 already" in text(refused)


@pytest.mark.parametrize("who", ["outsider", "member", "net control", "steward"])
def test_nobody_else_changes_anything(
    who: str, as_reader: Callable[[str], Client], net: Net, session: Session
) -> None:
    other = as_reader(who)
    before = list(Session.objects.values()), list(Net.objects.values())
    change(other, "call-off", follow=False, reason="I want to.")
    other.post(reverse("nets:extra_session", args=["ridge-net"]), {"date": "2026-03-07", "time": "10:00"})
    other.post(reverse("nets:new_net"), typed(save="yes"))
    other.post(reverse("nets:edit_net", args=["ridge-net"]), edited(net, script="Mine.", save="yes"))
    assert (list(Session.objects.values()), list(Net.objects.values())) == before


# Conflicts -----------------------------------------------------------------------------------------


def test_the_page_names_each_conflict_with_a_way_out_and_leads_to_it(
    manager: Client, session: Session, cast: Cast, ground: object
) -> None:
    hollow = make_station(cast.net_control, DEEP_HOLLOW, "handheld_indoors")
    Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control, station=hollow)
    page = manager.get(reverse("nets:conflicts"))
    assert "No usable path: QZ2NCS, net control of Ridge Net and Ridge 2 m" in text(page)
    assert "Find somebody else" in text(page)
    assert "/nets/ridge-net/2026-03-03/" in page.content.decode()
    assert "36.69" not in page.content.decode()


def test_without_conflicts_it_says_what_was_looked_at(manager: Client, session: Session) -> None:
    said = text(manager.get(reverse("nets:conflicts")))
    assert "Nothing to settle" in said
    assert "Outages planned ahead are not recorded yet" in said


# The office ----------------------------------------------------------------------------------------


def test_the_office_has_the_same_form(manager: Client, net: Net, session: Session) -> None:
    address = reverse("admin:nets_net_change", args=[net.pk])
    given = edited(net, days=["TH"], slug="ridge-net")
    asked = manager.post(address, given)
    assert "12 coming sessions on Tuesday give way to 12 on Thursday" in text(asked)
    found = re.search(r'name="agree" value="([0-9a-f]{16})"', asked.content.decode())
    assert found
    assert manager.post(address, given | {"agree": found[1]}).status_code == 302
    assert net.earlier_rules.count() == 1


def test_the_office_adds_a_net_with_its_sessions(manager: Client, relay: Relay) -> None:
    assert manager.post(reverse("admin:nets_net_add"), typed(relay, slug="valley-net")).status_code == 302
    assert Net.objects.get(slug="valley-net").sessions.count() == 12


def test_the_office_lists_coming_sessions_by_the_nets_own_clock(
    manager: Client, net: Net, session: Session
) -> None:
    Session.objects.create(
        net=net,
        occurrence_date=dt.date(2026, 2, 24),
        starts_at=NOW - dt.timedelta(days=7),
        ends_at=NOW - dt.timedelta(days=6),
    )
    address = reverse("admin:nets_session_changelist")
    assert "Tue 3 Mar 2026 19:30, New York time" in text(manager.get(address))
    assert "Tue 24 Feb 2026" not in text(manager.get(address))
    past = text(manager.get(address, {"when": "past"}))
    assert "Tue 24 Feb 2026" in past
    assert "Tue 10 Mar 2026" not in past


def test_the_office_moves_a_session_by_wall_time(manager: Client, session: Session) -> None:
    address = reverse("admin:nets_session_change", args=[session.pk])
    given = {
        "moved_date": "2026-03-05", "moved_time": "18:15", "relay": "", "state": "scheduled", "note": "",
        "duties-TOTAL_FORMS": "0", "duties-INITIAL_FORMS": "0",
    }  # fmt: skip
    assert manager.post(address, given).status_code == 302
    session.refresh_from_db()
    assert clock.to_wall(session.starts_at, session.net.zone) == dt.datetime(2026, 3, 5, 18, 15)
    half = manager.post(address, given | {"moved_time": ""})
    assert "needs a date and a time" in text(half)


def test_the_office_lists_coming_duties_by_the_nets_own_clock(
    manager: Client, session: Session, cast: Cast
) -> None:
    Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    assert "Tue 3 Mar 2026 19:30, New York time" in text(manager.get(reverse("admin:nets_duty_changelist")))


def test_a_net_manager_can_choose_a_member_in_the_office(
    manager: Client, session: Session, ground: object, cast: Cast
) -> None:
    """A picker that asks the roster, which is closed to net managers, would stay empty."""
    make_station(cast.net_control)
    page = manager.get(reverse("admin:nets_duty_add"))
    assert "QZ2NCS" in text(page)
    assert "Ridge Net, Tuesday 3 March 2026, 19:30 New York time" in text(page)
    given = {
        "session": session.pk,
        "role": "backup",
        "member": cast.net_control.pk,
        "station": "",
        "overrule_reason": "",
    }
    assert manager.post(reverse("admin:nets_duty_add"), given).status_code == 302
    assert session.duties.get().role == Duty.Role.BACKUP


def test_putting_back_several_in_the_office_tells_which_could_not_be(
    manager: Client, net: Net, session: Session, relay: Relay
) -> None:
    for row in net.sessions.all():
        schedule.call_off(row, note="Winter break.")
    Net.objects.create(
        name="Late",
        slug="late",
        relay=relay,
        rule="FREQ=DAILY",
        first_date=dt.date(2026, 3, 3),
        start_time=dt.time(20),
        ends_on=dt.date(2026, 3, 3),
    )
    chosen = [str(pk) for pk in net.sessions.values_list("pk", flat=True)]
    page = manager.post(
        reverse("admin:nets_session_changelist"),
        {"action": "put_back", "_selected_action": chosen},
        follow=True,
    )
    assert "11 sessions put back." in text(page)
    assert "Ridge Net 2026-03-03: Ridge Net and Late would both be on Ridge 2 m" in text(page)
