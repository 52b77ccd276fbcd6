"""Upkeep in the office: what an officer ticks, and what stays as it is."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from relays.models import UpkeepRecord, UpkeepTask
from tests.conftest import NOW
from tests.upkeep.conftest import TODAY, done

CHANGELIST = "admin:relays_upkeeptask_changelist"


@pytest.fixture(autouse=True)
def frozen():
    with time_machine.travel(NOW, tick=False):
        yield


def act(browser, action, *tasks):
    data = {"action": action, "_selected_action": [task.pk for task in tasks]}
    return browser.post(reverse(CHANGELIST), data, follow=True).content.decode()


def test_done_today_twice_is_done_once(as_reader, battery, cast):
    steward = as_reader("steward")
    assert "1 written down" in act(steward, "done_today", battery)
    assert "0 written down" in act(steward, "done_today", battery)
    assert UpkeepRecord.objects.get(done_on=TODAY).by == cast.steward


def test_a_week_later(as_reader, battery):
    assert "1 put off by a week." in act(as_reader("steward"), "a_week_later", battery)
    assert UpkeepTask.objects.get().postponed_to == dt.date(2026, 3, 17)


def test_who_may_only_look_changes_nothing(as_reader, battery):
    act(as_reader("net manager"), "done_today", battery)
    act(as_reader("net manager"), "a_week_later", battery)
    assert not UpkeepRecord.objects.filter(done_on=TODAY).exists()
    assert UpkeepTask.objects.get().postponed_to is None


def test_the_list_says_when_each_is_due(as_reader, battery):
    assert "2026-03-10 (due in 7 days)" in as_reader("steward").get(reverse(CHANGELIST)).content.decode()


def test_a_task_is_entered_with_its_hazards_and_a_meter(as_reader, site, cast):
    given = {
        "site": site.pk, "name": "Guys", "rhythm": "dates", "every": "", "fixed_dates": "15 April, 15 October",
        "first_due_on": "2026-03-01", "lead_days": "21", "responsible": cast.member.pk, "stand_in": "",
        "hazards": ["tower", "rf"], "is_active": "on",
        "reading_kinds-TOTAL_FORMS": "1", "reading_kinds-INITIAL_FORMS": "0",
        "reading_kinds-0-name": "Tension", "reading_kinds-0-unit": "kN", "reading_kinds-0-low": "2",
        "reading_kinds-0-high": "3", "reading_kinds-0-is_active": "on",
    }  # fmt: skip
    answer = as_reader("steward").post(reverse("admin:relays_upkeeptask_add"), given)
    assert answer.status_code == 302
    task = UpkeepTask.objects.get()
    assert task.hazards == ["tower", "rf"]
    assert task.reading_kinds.get().high == 3


def test_a_task_with_a_history_is_not_deleted(as_reader, battery, cast):
    done(battery, TODAY)
    address = reverse("admin:relays_upkeeptask_delete", args=[battery.pk])
    page = as_reader("officer").post(address, {"post": "yes"}).content.decode()
    assert "protected" in page
    assert UpkeepTask.objects.exists()


@pytest.mark.parametrize("model", ["upkeeprecord", "reading", "renewal", "keyholder"])
def test_every_list_opens(model, as_reader, battery):
    assert as_reader("officer").get(reverse(f"admin:relays_{model}_changelist")).status_code == 200


def test_papers_and_keys_are_not_for_who_may_only_look(as_reader):
    manager = as_reader("net manager")
    for model in ("renewal", "keyholder"):
        assert manager.get(reverse(f"admin:relays_{model}_changelist")).status_code == 403
