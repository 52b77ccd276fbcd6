"""The board, a task, a meter, papers and keys, as their readers see them."""

from __future__ import annotations

import csv
import datetime as dt
import io
import uuid

import pytest
import time_machine
from django.urls import reverse

from relays.models import KeyHolder, Reading, UpkeepRecord
from tests.conftest import NOW
from tests.test_permissions import READERS
from tests.upkeep.conftest import DAY, TODAY, make_task, read


@pytest.fixture(autouse=True)
def frozen():
    with time_machine.travel(NOW, tick=False):
        yield


def page(as_reader, who, name, *args):
    return as_reader(who).get(reverse(f"relays:{name}", args=args)).content.decode()


def visit(**changes):
    return {"done_on": "2026-03-03", "notes": "", "token": str(uuid.uuid4())} | changes


def test_the_board_sorts_by_urgency(as_reader, battery, site):
    make_task(site, name="Guys", first_due_on=TODAY - 12 * DAY)
    make_task(site, name="Paint", first_due_on=TODAY + 90 * DAY)
    said = page(as_reader, "member", "upkeep")
    places = [said.index(word) for word in ("12 days overdue", "Guys", "due in 7 days", "Later", "Paint")]
    assert said.index("Overdue") < said.index("Due in the next 30 days") < said.index("Later")
    assert places[1] < places[0] < places[2] < places[3] < places[4]


def test_an_empty_board_says_what_to_do(as_reader, cast):
    assert "No task has been entered yet" in page(as_reader, "member", "upkeep")


def test_the_page_of_a_task_shows_its_cautions_and_defers_to_the_law(as_reader, battery):
    said = page(as_reader, "member", "upkeep_task", battery.pk)
    assert "a battery burst" in said
    assert "Go in twos" in said
    assert "Local codes, the law and licensed practice decide" in said
    assert "Never climb alone" not in said


def test_a_visit_is_written_down_with_its_reading(as_reader, battery, voltage, cast):
    data = visit(notes="Cleaned the terminals.") | {f"reading_{voltage.pk}": "12.6"}
    answer = as_reader("member").post(reverse("relays:upkeep_task", args=[battery.pk]), data, follow=True)
    assert "Written down. Thank you." in answer.content.decode()
    record = UpkeepRecord.objects.get(done_on=TODAY)
    assert (record.by, record.notes, record.was_due_on) == (
        cast.member,
        "Cleaned the terminals.",
        dt.date(2026, 3, 10),
    )
    assert [reading.value for reading in record.readings.all()] == [12.6]


def test_pressing_twice_writes_one_record(as_reader, battery, voltage):
    data, browser = visit() | {f"reading_{voltage.pk}": "12.6"}, as_reader("member")
    address = reverse("relays:upkeep_task", args=[battery.pk])
    browser.post(address, data)
    again = browser.post(address, data, follow=True).content.decode()
    assert "This was written down already" in again
    assert UpkeepRecord.objects.filter(done_on=TODAY).count() == Reading.objects.count() == 1


def test_a_reading_outside_is_said_at_once(as_reader, battery, voltage):
    data = visit() | {f"reading_{voltage.pk}": "11.9"}
    answer = as_reader("member").post(reverse("relays:upkeep_task", args=[battery.pk]), data, follow=True)
    assert (
        "11.9\N{NO-BREAK SPACE}V is below the low limit of 12.2\N{NO-BREAK SPACE}V" in answer.content.decode()
    )


@pytest.mark.parametrize("who", READERS)
def test_only_who_is_asked_and_stewards_write_down(who, as_reader, battery):
    as_reader(who).post(reverse("relays:upkeep_task", args=[battery.pk]), visit())
    wrote = UpkeepRecord.objects.filter(done_on=TODAY).exists()
    assert wrote == (who in {"member", "net control", "steward", "officer"})


@pytest.mark.parametrize("who", READERS)
def test_only_who_is_asked_and_stewards_log_a_reading(who, as_reader, voltage):
    data = {"value": "12.5", "token": str(uuid.uuid4())}
    as_reader(who).post(reverse("relays:upkeep_reading", args=[voltage.pk]), data)
    assert Reading.objects.exists() == (who in {"member", "net control", "steward", "officer"})


@pytest.mark.parametrize("who", READERS)
def test_only_stewards_take_a_key_back(who, as_reader, site, cast):
    row = KeyHolder.objects.create(site=site, member=cast.member, key="Gate", given_on=TODAY - DAY)
    as_reader(who).post(reverse("relays:upkeep_key_back", args=[row.pk]))
    row.refresh_from_db()
    assert (row.returned_on is not None) == (who in {"steward", "officer"})


def test_a_task_laid_to_rest_has_a_history_and_no_form(as_reader, battery):
    battery.is_active = False
    battery.save()
    said = page(as_reader, "steward", "upkeep_task", battery.pk)
    assert "10 December 2025" in said
    assert "It is done" not in said


def test_a_meter_shows_its_readings_its_limits_and_its_trend(as_reader, voltage):
    for months, value in enumerate((12.3, 12.35, 12.41, 12.44, 12.5, 12.55)):
        read(voltage, value, NOW - 30 * months * DAY)
    said = page(as_reader, "member", "upkeep_reading", voltage.pk)
    assert said.count('class="within"') == 6
    assert "12.2 to 13.2\N{NO-BREAK SPACE}V" in said
    assert "Falling by about" in said
    assert "it reaches the limit of 12.2" in said


def test_a_meter_with_one_reading_draws_nothing(as_reader, voltage):
    read(voltage, 12.5)
    said = page(as_reader, "member", "upkeep_reading", voltage.pk)
    assert "<circle" not in said
    assert "a trend needs at least 6" in said


def test_the_file_of_the_board_is_harmless_in_a_spreadsheet(as_reader, battery, site):
    make_task(site, name="=1+1", first_due_on=TODAY)
    answer = as_reader("steward").get(reverse("relays:upkeep_file"))
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert [row[0] for row in rows] == ["task", "'=1+1", "Battery"]
    assert rows[2] == [
        "Battery",
        "High Ridge",
        "2026-03-10",
        "soon",
        "2025-12-10",
        "every 3 months",
        "QZ2MEM",
    ]


def test_a_paper_gets_its_new_last_day(as_reader, site):
    site.lease_expires_on = TODAY + 20 * DAY
    site.save()
    said = page(as_reader, "steward", "upkeep_renewals")
    assert "Site lease" in said
    as_reader("steward").post(
        reverse("relays:upkeep_renewals"), {"paper": f"lease:{site.pk}", "until": "2031-03-01"}
    )
    site.refresh_from_db()
    assert site.lease_expires_on == dt.date(2031, 3, 1)


def test_a_key_is_given_and_comes_back(as_reader, site, cast):
    steward = as_reader("steward")
    data = {"site": site.pk, "member": cast.member.pk, "key": "Gate 2", "given_on": "2026-03-01", "note": ""}
    steward.post(reverse("relays:upkeep_keys"), data)
    row = KeyHolder.objects.get()
    assert "Gate 2" in page(as_reader, "steward", "upkeep_keys")
    steward.post(reverse("relays:upkeep_key_back", args=[row.pk]))
    row.refresh_from_db()
    assert row.returned_on == TODAY
