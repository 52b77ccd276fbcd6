"""Wrong visits, readings, papers, keys and tasks."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse

from relays.models import KeyHolder, ReadingKind, Site, UpkeepTask
from tests.bad_input.conftest import Refuses
from tests.conftest import Cast

TODAY = dt.date(2026, 3, 3)


@pytest.fixture
def battery(site: Site, cast: Cast) -> UpkeepTask:
    return UpkeepTask.objects.create(
        site=site, name="Battery", every=3, first_due_on=TODAY, responsible=cast.member
    )


@pytest.fixture
def voltage(battery: UpkeepTask) -> ReadingKind:
    return ReadingKind.objects.create(task=battery, name="Voltage", unit="V", low=12.2, high=13.2)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"done_on": "2026-03-04"}, "2026-03-04 is in the future; today is 2026-03-03."),
        ({"done_on": "2001-03-04"}, "more than ten years ago; look at the year."),
        ({"done_on": "yesterday"}, "“yesterday” is not a date; write year, month and day"),
        ({"done_on": "2026-02-30"}, "“2026-02-30” is not a date"),
        ({"done_on": ""}, "Nothing was given here, and it is needed."),
        ({"value": "twelve"}, "“twelve” is not a number; write it with a point"),
        ({"value": "12,6 V"}, "“12,6 V” is not a number"),
        ({"value": "nan"}, "“nan” is not a number"),
        ({"value": "inf"}, "“inf” is not a number"),
        ({"value": "1e300"}, "is too much; give at most"),
        ({"notes": "x" * 2001}, "This has 2001 characters; at most 2000 can be kept."),
        ({"token": "not a token"}, "This form has lost its number"),
    ],
)
def test_a_wrong_visit(
    changes: dict[str, str], sentence: str, voltage: ReadingKind, refuses: Refuses
) -> None:
    given = {
        "done_on": "2026-03-03",
        "notes": "Looked.",
        "token": str(uuid.uuid4()),
        "value": "12.6",
    } | changes
    given[f"reading_{voltage.pk}"] = given.pop("value")
    refuses("member", reverse("relays:upkeep_task", args=[voltage.task_id]), given, sentence)


@pytest.mark.parametrize(
    ("value", "sentence"),
    [("", "Nothing was given here"), ("-", "“-” is not a number"), ("-2e9", "is too little; give at least")],
)
def test_a_wrong_reading(value: str, sentence: str, voltage: ReadingKind, refuses: Refuses) -> None:
    given = {"value": value, "token": str(uuid.uuid4())}
    refuses("member", reverse("relays:upkeep_reading", args=[voltage.pk]), given, sentence)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"until": "2026-04-01"}, "It holds until 2026-05-01 already; 2026-04-01 is earlier."),
        ({"until": "2026-13-01"}, "“2026-13-01” is not a date"),
        ({"until": "9999-01-01"}, "more than a hundred years away"),
        ({"paper": ""}, "Nothing was given here"),
        ({"paper": "lease:999"}, "“lease:999” is not one of the choices"),
        ({"paper": "member:1"}, "“member:1” is not one of the choices"),
    ],
)
def test_a_wrong_new_last_day(
    changes: dict[str, str], sentence: str, site: Site, cast: Cast, refuses: Refuses
) -> None:
    site.lease_expires_on = dt.date(2026, 5, 1)
    site.save()
    given = {"paper": f"lease:{site.pk}", "until": "2031-05-01"} | changes
    unkept = frozenset({"paper"} & {name for name, value in changes.items() if value})
    refuses("steward", reverse("relays:upkeep_renewals"), given, sentence, unkept=unkept)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"key": "Gate"}, "“Gate” is with"),
        ({"given_on": "2026-03-04"}, "2026-03-04 is in the future"),
        ({"site": "999"}, "take one of the list"),
        ({"member": ""}, "Nothing was given here"),
        ({"key": "x" * 61}, "at most 60 can be kept"),
    ],
)
def test_a_wrong_key(
    changes: dict[str, str], sentence: str, site: Site, cast: Cast, refuses: Refuses
) -> None:
    KeyHolder.objects.create(site=site, member=cast.manager, key="Gate", given_on=TODAY)
    given = {
        "site": str(site.pk), "member": str(cast.member.pk), "key": "Hut", "given_on": "2026-03-03", "note": "",
    } | changes  # fmt: skip
    unkept = frozenset({"site"} & changes.keys())
    refuses("steward", reverse("relays:upkeep_keys"), given, sentence, unkept=unkept)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"every": ""}, "Say how many days or months lie between"),
        ({"every": "4000"}, "4000 is too much; give at most 3660."),
        ({"rhythm": "dates", "every": "", "fixed_dates": "31 June"}, "June has the days 1 to 30."),
        ({"rhythm": "days", "every": "7", "lead_days": "7"}, "7 days is too early"),
        ({"lead_days": "two"}, "“two” is not a whole number"),
        ({"site": ""}, "A task belongs to a site or to a relay; name one of the two."),
        ({"stand_in": "same"}, "The stand-in is somebody else than the responsible person."),
    ],
)
def test_a_wrong_task_in_the_office(
    changes: dict[str, str], sentence: str, site: Site, cast: Cast, refuses: Refuses
) -> None:
    given = {
        "site": str(site.pk), "name": "Guys", "rhythm": "months", "every": "6", "fixed_dates": "",
        "first_due_on": "2026-04-01", "lead_days": "14", "responsible": str(cast.member.pk), "stand_in": "",
        "reading_kinds-TOTAL_FORMS": "0", "reading_kinds-INITIAL_FORMS": "0",
    } | changes  # fmt: skip
    if given["stand_in"] == "same":
        given["stand_in"] = given["responsible"]
    refuses("steward", reverse("admin:relays_upkeeptask_add"), given, sentence)
