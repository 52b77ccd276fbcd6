"""Wrong nets: each is answered with what was wrong and what would be right, and nothing typed is lost."""

from __future__ import annotations

from typing import Any

import pytest
from django.urls import reverse

from nets.models import Net, Session
from relays.models import Relay
from tests.bad_input.conftest import Refuses
from tests.nets.test_net_form import typed

pytestmark = pytest.mark.django_db

WRONG: dict[str, tuple[dict[str, Any], str]] = {
    "zone misspelt": (
        {"zone": "America/New_Yrok"},
        "There is no time zone called “America/New_Yrok”. Did you mean America/New_York?",
    ),
    "no zone": ({"zone": "our time"}, "A zone is named by area and city, such as Europe/London"),
    "ends before it begins": (
        {"first_date": "2026-03-04", "ends_on": "2026-03-01"},
        "It would end on 2026-03-01, before it begins on 2026-03-04; give a later date.",
    ),
    "ends before its first session": (
        {"days": ["FR"], "first_date": "2026-03-04", "ends_on": "2026-03-05"},
        "The first session would be on 6 March 2026, after this last date; give a later one.",
    ),
    "neither relay nor simplex": (
        {"simplex_mhz": ""},
        "Give a relay or a simplex frequency: one of the two, so that people know where to listen.",
    ),
    "simplex outside the band": (
        {"simplex_mhz": "150.000"},
        "150.000 MHz is in no band in the US; it should be in 2 m (144.000 to 148.000 MHz)",
    ),
    "kilohertz": ({"simplex_mhz": "146550"}, "Give megahertz, not kilohertz, such as 146.730."),
    "a comma in a frequency": (
        {"simplex_mhz": "146,55"},
        "“146,55” is not a number; write it with a point, such as 146.55.",
    ),
    "no minutes": ({"duration_min": "0"}, "0 is too little; give at least 5."),
    "a whole day": ({"duration_min": "1440"}, "1440 is too much; give at most 720."),
    "minutes in words": ({"duration_min": "an hour"}, "“an hour” is not a whole number, such as 60."),
    "no time of day": ({"start_time": "25:99"}, "“25:99” is not a time of day; write hours and minutes, such as"),
    "no date": ({"first_date": "soon"}, "“soon” is not a date; write year, month and day, such as 2026-03-10."),
    "a date that never was": ({"first_date": "2026-02-30"}, "“2026-02-30” is not a date"),
    "two digits of a year": ({"first_date": "0026-03-10"}, "The year 26 cannot be right; give one from 1900 to 2198."),
    "no day": ({"days": None}, "Tick at least one day of the week on which it meets."),
    "no place in the month": (
        {"pattern": "monthly_by_weekday"},
        "Tick which of them in the month it is, such as the first and the third.",
    ),
    "no day of the month": (
        {"pattern": "monthly_by_day", "month_days": "32"},
        "“32” is not a day of the month; write numbers from 1 to 31 with commas between them, or last.",
    ),
    "a month that has no such day": (
        {"pattern": "monthly_by_day", "month_days": "30, 31", "months": ["2"]},
        "By this it never meets: no date from 4 March 2026 on fits. Choose other days or months.",
    ),
    "a rule that cannot be read": (
        {"pattern": "written", "rule": "every tuesday"},
        "“EVERY TUESDAY” in the rule is not of the form NAME=VALUE, such as FREQ=WEEKLY;BYDAY=TU.",
    ),
    "a rule by the year": ({"pattern": "written", "rule": "FREQ=YEARLY"}, "use DAILY, WEEKLY or MONTHLY"),
    "no name": ({"name": ""}, "Nothing was given here, and it is needed."),
    "a chance in percent": ({"minimum_probability": "80"}, "80.0 is too much; give at most 1."),
    "a margin nobody has": ({"minimum_margin_db": "99"}, "99.0 is too much; give at most 40."),
}  # fmt: skip


@pytest.mark.parametrize(("changes", "sentence"), WRONG.values(), ids=WRONG)
def test_a_wrong_net_is_told_what_would_be_right(
    changes: dict[str, Any], sentence: str, refuses: Refuses
) -> None:
    given = {name: value for name, value in (typed(save="yes") | changes).items() if value is not None}
    refuses("net manager", reverse("nets:new_net"), given, sentence)


@pytest.mark.parametrize(("name", "value"), [("relay", "4711"), ("pattern", "fortnightly")])
def test_a_choice_that_does_not_exist(name: str, value: str, refuses: Refuses) -> None:
    given = typed(save="yes") | {name: value}
    sentence = f"“{value}” is not one of the choices; take one of the list."
    refuses("net manager", reverse("nets:new_net"), given, sentence, unkept=frozenset({name}))


def test_a_relay_and_a_simplex_frequency_are_one_too_many(relay: Relay, refuses: Refuses) -> None:
    given = typed(relay, simplex_mhz="146.550", save="yes")
    sentence = "Both Ridge 2 m and 146.550 MHz simplex are given; people can listen in one place only"
    refuses("net manager", reverse("nets:new_net"), given, sentence)


def test_a_net_in_anothers_time_is_named_with_it(net: Net, relay: Relay, refuses: Refuses) -> None:
    given = typed(relay, days=["TU"], start_time="19:00", save="yes")
    sentence = (
        "Valley Net and Ridge Net would both be on Ridge 2 m on Tuesday 10 March 2026 at 19:30 New York time."
    )
    refuses("net manager", reverse("nets:new_net"), given, sentence, "Choose another hour")


def test_a_name_twice(net: Net, refuses: Refuses) -> None:
    given = typed(name="Ridge Net", save="yes")
    refuses(
        "net manager",
        reverse("nets:new_net"),
        given,
        "There is a net of this name already; give this one another",
    )


def test_an_address_that_is_a_page(relay: Relay, refuses: Refuses) -> None:
    given = typed(relay, slug="conflicts")
    refuses(
        "net manager", reverse("admin:nets_net_add"), given, "“conflicts” is the address of something else"
    )


def test_a_change_in_the_past(net: Net, session: Session, refuses: Refuses) -> None:
    given = typed(net.relay, name=net.name, first_date="2026-02-24", days=["TH"], save="yes")
    sentence = "24 February 2026 is past, and what was held stays as it was. Give today, 3 March 2026, or a later date."
    refuses("net manager", reverse("nets:edit_net", args=["ridge-net"]), given, sentence)


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"what": "move", "date": "", "time": "19:00"}, "Nothing was given here, and it is needed."),
        (
            {"what": "move", "date": "2026-03-02", "time": "19:00"},
            "is past; it is now Tuesday 3 March 2026, 07:00",
        ),
        ({"what": "move", "date": "2062-03-10", "time": "19:00"}, "more than a year away; check the year"),
        ({"what": "call-off", "reason": "-"}, "Say why it is called off, such as “Storm warning”"),
        ({"what": "call-off", "reason": ""}, "Nothing was given here, and it is needed."),
    ],
)
def test_a_wrong_change_of_a_session(
    values: dict[str, str], sentence: str, session: Session, refuses: Refuses
) -> None:
    refuses("net manager", reverse("nets:change_session", args=["ridge-net", "2026-03-03"]), values, sentence)


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        (
            {"date": "2026-03-10", "time": "21:00"},
            "Ridge Net has a session of 10 March 2026 already; it is planned",
        ),
        ({"date": "2026-03-01", "time": "21:00"}, "is past"),
        ({"date": "10.3.", "time": "21:00", "note": "Field day."}, "“10.3.” is not a date"),
    ],
)
def test_a_wrong_extra_session(
    values: dict[str, str], sentence: str, session: Session, refuses: Refuses
) -> None:
    refuses("net manager", reverse("nets:extra_session", args=["ridge-net"]), values, sentence)
