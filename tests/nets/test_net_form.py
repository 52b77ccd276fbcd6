"""The form of a net: plain words in, a rule out; one form for the club's page and the office."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import transaction

from nets import rule_changes
from nets.forms import NetForm
from nets.models import Duty, Net, Session
from relays.models import Relay
from tests.conftest import NOW, Cast

pytestmark = pytest.mark.django_db


def typed(relay: Relay | None = None, **changes: Any) -> dict[str, Any]:
    """A whole form as a browser sends it; None leaves a field out."""
    values = {
        "name": "Valley Net", "pattern": "weekly", "every": "1", "days": ["WE"], "start_time": "20:00",
        "zone": "America/New_York", "duration_min": "45", "first_date": "2026-03-04", "minimum_margin_db": "6",
        "minimum_probability": "0.8", "is_active": "on", "relay": relay.pk if relay else "",
        "simplex_mhz": "" if relay else "146.550",
    } | changes  # fmt: skip
    return {name: value for name, value in values.items() if value is not None}


def form(instance: Net | None = None, looking: bool = False, **changes: Any) -> NetForm:
    with transaction.atomic():
        made = NetForm(typed(**changes), instance=instance, now=NOW, looking=looking)
        made.is_valid()
    return made


@pytest.mark.parametrize(
    ("choices", "rule"),
    [
        ({"days": ["TU"]}, "FREQ=WEEKLY;BYDAY=TU"),
        ({"days": ["TU", "TH"], "every": "2"}, "FREQ=WEEKLY;INTERVAL=2;BYDAY=TU,TH"),
        (
            {"pattern": "monthly_by_weekday", "days": ["TH"], "ordinals": ["1", "3"]},
            "FREQ=MONTHLY;BYDAY=1TH,3TH",
        ),
        ({"pattern": "monthly_by_weekday", "days": ["SU"], "ordinals": ["-1"]}, "FREQ=MONTHLY;BYDAY=-1SU"),
        ({"pattern": "monthly_by_day", "month_days": "1, 15th and last"}, "FREQ=MONTHLY;BYMONTHDAY=1,15,-1"),
        ({"days": ["SA"], "months": ["10", "11", "12"]}, "FREQ=WEEKLY;BYMONTH=10,11,12;BYDAY=SA"),
        ({"days": ["SA"], "months": [str(month) for month in range(1, 13)]}, "FREQ=WEEKLY;BYDAY=SA"),
        ({"pattern": "daily", "every": "2"}, "FREQ=DAILY;INTERVAL=2"),
        (
            {"pattern": "written", "rule": "freq=monthly;byday=tu;bysetpos=2"},
            "FREQ=MONTHLY;BYDAY=TU;BYSETPOS=2",
        ),
    ],
)
def test_plain_choices_make_the_rule(choices: dict[str, Any], rule: str) -> None:
    made = form(**choices)
    assert made.errors == {}
    assert made.instance.rule == rule


def test_choices_of_another_pattern_are_left_out_of_account() -> None:
    made = form(ordinals=["1"], month_days="15", rule="FREQ=DAILY")
    assert made.instance.rule == "FREQ=WEEKLY;BYDAY=WE"


def test_a_rule_that_can_be_ticked_is_shown_ticked(net: Net) -> None:
    net.rule = "FREQ=MONTHLY;BYDAY=TH;BYSETPOS=1,3"
    net.save()
    shown = NetForm(instance=net, now=NOW)
    assert (shown["pattern"].value(), shown["days"].value(), shown["ordinals"].value()) == (
        "monthly_by_weekday",
        ["TH"],
        [1, 3],
    )


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=MONTHLY;BYMONTHDAY=13;BYDAY=FR",
        "FREQ=WEEKLY;INTERVAL=9;BYDAY=TU",
        "FREQ=WEEKLY;COUNT=40;BYDAY=TU",
    ],
)
def test_a_rule_that_cannot_be_ticked_is_shown_as_it_is_and_may_be_kept(net: Net, rule: str) -> None:
    net.rule = rule
    net.save()
    shown = NetForm(instance=net, now=NOW)
    kept = str(rule_changes.remaining_rule(net, shown["first_date"].value()))
    assert (shown["pattern"].value(), shown["rule"].value()) == ("written", kept)
    again = form(
        net,
        relay=net.relay,
        name=net.name,
        pattern="written",
        rule=kept,
        first_date=str(shown["first_date"].value()),
        start_time="19:30",
        duration_min="60",
    )
    assert again.errors == {}
    assert again.foretold is not None
    assert not again.foretold.succession.changes


def test_the_next_date_stands_where_a_change_would_begin(net: Net, session: Session) -> None:
    assert NetForm(instance=net, now=NOW)["first_date"].value() == session.occurrence_date


def test_the_address_is_made_from_the_name() -> None:
    assert form(name="Été & Valley Net").instance.slug == "ete-valley-net"


@pytest.mark.parametrize(("name", "slug"), [("Ridge Net", "ridge-net-2"), ("New", "new-net"), ("网", "net")])
def test_an_address_that_is_taken_gets_a_number(net: Net, name: str, slug: str) -> None:
    made = form(name=name + " ", slug="")
    made.instance.name = name
    assert made.cleaned_data["slug"] == slug


def test_the_address_of_a_net_stays_when_its_name_changes(net: Net) -> None:
    assert form(net, relay=net.relay, name="Another Name").instance.slug == "ridge-net"


def test_it_never_saves_by_validating(net: Net, session: Session) -> None:
    before = list(Session.objects.values()), list(Net.objects.values())
    form(net, relay=net.relay, name="X", days=["MO"])
    assert (list(Session.objects.values()), list(Net.objects.values())) == before


# Asking once ---------------------------------------------------------------------------------------


def edit(net: Net, **changes: Any) -> NetForm:
    values = {
        "relay": net.relay, "name": net.name, "days": ["TU"], "start_time": "19:30", "duration_min": "60",
        "first_date": "2026-03-03",
    } | changes  # fmt: skip
    return form(net, **values)


def test_a_change_of_the_script_asks_nothing(net: Net, session: Session) -> None:
    made = edit(net, script="Good evening, all.")
    assert made.errors == {}
    assert made.foretold is not None
    assert not made.foretold.asks


def test_another_weekday_is_told_and_asked(net: Net, session: Session, cast: Cast) -> None:
    Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    made = edit(net, days=["TH"])
    assert made.errors["agree"] == [
        "Read what saving would do; if that is right, tick the box and save again.",
        "12 coming sessions on Tuesday give way to 12 on Thursday, the first on Thursday 5 March 2026.",
        "1 duty will be called off: QZ2NCS, net control on Tuesday 3 March 2026.",
        "What was planned up to 2 March 2026 stays as it is, in calendars too.",
    ]


def test_a_yes_is_asked_for_once(net: Net, session: Session) -> None:
    asked = edit(net, days=["TH"])
    assert asked.foretold is not None
    assert edit(Net.objects.get(), days=["TH"], agree=asked.foretold.digest).errors == {}


def test_a_yes_to_something_else_is_no_yes(net: Net, session: Session) -> None:
    asked = edit(net, days=["TH"])
    assert asked.foretold is not None
    again = edit(Net.objects.get(), days=["FR"], agree=asked.foretold.digest)
    assert "on Friday" in str(again.errors["agree"])


def test_looking_asks_nothing_and_tells_all(net: Net, session: Session) -> None:
    made = edit(net, looking=True, start_time="20:15", duration_min="30")
    assert made.errors == {}
    assert made.foretold is not None
    assert made.foretold.sentences == (
        "12 coming sessions keep their dates and will be from 20:15 to 20:45 New York time, not 19:30 to 20:30.",
        "What was planned up to 2 March 2026 stays as it is, in calendars too.",
    )


def test_who_could_not_take_the_chair_any_more_is_named(
    net: Net, session: Session, cast: Cast, ground: object
) -> None:
    """Nobody has a station on record here, so nobody has a path to another relay."""
    Duty.objects.create(session=session, role=Duty.Role.NET_CONTROL, member=cast.net_control)
    other = Relay.objects.get()
    other.pk, other.name, other.slug = None, "Other", "other"
    other.save()
    made = edit(net, relay=other)
    said = str(made.errors["agree"])
    assert "12 coming sessions will be on Other instead of Ridge 2 m." in said
    assert "For net control on Tuesday 3 March 2026 somebody else is needed: QZ2NCS cannot" in said


def test_switching_off_tells_what_falls_away(net: Net, session: Session) -> None:
    made = edit(net, is_active=None)
    assert "12 coming sessions fall away: Tuesday 3 March 2026," in str(made.errors["agree"])
    assert "and 8 more." in str(made.errors["agree"])


def test_a_new_net_is_asked_nothing(relay: Relay) -> None:
    made = form(relay=relay)
    assert made.errors == {}
    assert rule_changes.adopt(made.save(commit=False), now=NOW).made == 12


def test_a_week_left_out_is_left_out_when_it_is_saved(net: Net, session: Session) -> None:
    """On the air on 3 March, every other week from today: nothing on the 10th, neither new nor old rule."""
    now = session.starts_at + dt.timedelta(minutes=5)
    values = typed(net.relay, name=net.name, days=["TU"], every="2", start_time="19:30", duration_min="60")
    values["first_date"] = "2026-03-03"
    with transaction.atomic():
        asked = NetForm(values, instance=Net.objects.get(), now=now, looking=True)
        asked.is_valid()
        made = NetForm(values | {"agree": asked.foretold.digest}, instance=Net.objects.get(), now=now)
        assert made.is_valid()
        rule_changes.adopt(made.save(commit=False), now=now, found=made.succession)
    dates = net.sessions.order_by("occurrence_date").values_list("occurrence_date", flat=True)
    assert list(dates[:3]) == [dt.date(2026, 3, 3), dt.date(2026, 3, 17), dt.date(2026, 3, 31)]
    assert net.earlier_rules.get().last_date == dt.date(2026, 3, 3)


# What cannot be ------------------------------------------------------------------------------------


def test_a_change_cannot_begin_in_the_past(net: Net, session: Session) -> None:
    assert "1 March 2026 is past" in str(edit(net, first_date="2026-03-01").errors["first_date"])


def end(net: Net, ends_on: str) -> NetForm:
    """Give it a last date on the day after a session, when the form offers a change from the next one on."""
    values = {"days": ["TU"], "start_time": "19:30", "duration_min": "60", "first_date": "2026-03-10"}
    with transaction.atomic():
        made = NetForm(
            typed(net.relay, name=net.name, ends_on=ends_on, **values),
            instance=net,
            now=NOW + dt.timedelta(days=1),
        )
        made.is_valid()
    return made


def test_a_net_cannot_end_before_it_last_met(net: Net, session: Session) -> None:
    assert "It met on 3 March 2026" in str(end(net, "2026-03-02").errors["ends_on"])


def test_a_net_may_end_with_the_session_it_held_last(net: Net, session: Session) -> None:
    made = end(net, "2026-03-03")
    assert list(made.errors) == ["agree"]
    assert "11 coming sessions fall away" in str(made.errors["agree"])
    assert (made.instance.first_date, made.instance.ends_on) == (dt.date(2026, 2, 10), dt.date(2026, 3, 3))


def test_it_refuses_a_net_on_the_same_relay_at_the_same_time(net: Net, relay: Relay) -> None:
    made = form(relay=relay, days=["TU"], start_time="20:00")
    assert "Valley Net and Ridge Net would both be on Ridge 2 m" in str(made.non_field_errors())


def test_a_clash_that_is_there_already_does_not_stop_another_edit(
    net: Net, relay: Relay, session: Session
) -> None:
    Net.objects.create(
        name="Twin",
        slug="twin",
        relay=relay,
        rule=net.rule,
        first_date=net.first_date,
        start_time=net.start_time,
    )
    assert edit(net, script="New words.").errors == {}
    assert edit(Net.objects.get(slug="ridge-net"), start_time="19:45").non_field_errors()


def test_a_way_out_of_a_clash_may_begin_later(net: Net, relay: Relay, session: Session) -> None:
    """Until then the two go on clashing, which is no fault of the change."""
    Net.objects.create(
        name="Twin",
        slug="twin",
        relay=relay,
        rule=net.rule,
        first_date=net.first_date,
        start_time=net.start_time,
    )
    made = edit(net, start_time="21:00", first_date="2026-03-17", looking=True)
    assert made.errors == {}
