"""The log in the office: looked at, and hardly changed."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from nets.models import CheckIn, SessionLog
from tests.conftest import Cast
from tests.log.conftest import Log
from tests.test_permissions import READERS


@pytest.mark.parametrize("who", READERS)
@pytest.mark.parametrize("model", ["checkin", "correction", "sessionlog"])
def test_net_managers_and_officers_see_it(
    model: str, who: str, cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    answer = as_reader(who).get(reverse(f"admin:nets_{model}_changelist"))
    assert (answer.status_code == 200) == (who in {"net manager", "officer"})


def test_nobody_deletes_a_check_in(log: Log, as_reader: Callable[[str], Client]) -> None:
    row = log("QX7TAB")
    for action in ("change", "delete"):
        address = reverse(f"admin:nets_checkin_{action}", args=[row.pk])
        as_reader("officer").post(address, {"call_sign": "QX7TAC", "post": "yes"})
    assert [each.call_sign for each in CheckIn.objects.all()] == ["QX7TAB"]


def test_who_was_net_control_can_be_put_right(
    opened: SessionLog, cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    address = reverse("admin:nets_sessionlog_change", args=[opened.pk])
    as_reader("net manager").post(address, {"net_control": cast.officer.pk, "remark": ""})
    opened.refresh_from_db()
    assert opened.net_control == cast.officer
