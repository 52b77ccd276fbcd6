"""Every address of log and report against every kind of reader.

The duty of tonight is the steward's, as backup: it, not a role, opens the log.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from nets.checkins import keeping, rollcall
from nets.models import CheckIn, Duty, RollCall, Session, SessionLog
from tests.conftest import Cast
from tests.log.conftest import BY, ON_AIR, Log, minutes
from tests.test_permissions import READERS, outcome

KEEPERS = {"steward", "net manager", "officer"}
SESSION = {"slug": "ridge-net", "date": "2026-03-03"}

FOR_KEEPERS = ["log", "log_entries", "log_names", "log_worker", "log_import", "log_entry"]
FOR_MEMBERS = ["report", "comms_log", "report_file", "statistics"]


@pytest.fixture
def entry(session: Session, cast: Cast, log: Log) -> CheckIn:
    Duty.objects.create(session=session, role=Duty.Role.BACKUP, member=cast.steward)
    return log("QX7TAB")


def address(name: str, entry: CheckIn) -> str:
    more: dict[str, object] = {"log_entry": {"key": entry.key}, "report_file": {"kind": "csv"}}.get(name, {})
    where = {"slug": "ridge-net"} if name == "statistics" else SESSION
    return reverse(f"nets:{name}", kwargs={**where, **more})


@pytest.mark.parametrize("who", READERS)
@pytest.mark.parametrize("name", FOR_KEEPERS)
def test_the_log_opens_to_those_who_keep_it(
    name: str, who: str, entry: CheckIn, as_reader: Callable[[str], Client]
) -> None:
    expected = "log in" if who == "outsider" else "opens" if who in KEEPERS else "refused"
    assert outcome(as_reader(who), address(name, entry)) == expected


@pytest.mark.parametrize("who", READERS)
@pytest.mark.parametrize("name", FOR_MEMBERS)
def test_reports_open_to_members(
    name: str, who: str, entry: CheckIn, as_reader: Callable[[str], Client]
) -> None:
    assert outcome(as_reader(who), address(name, entry)) == ("log in" if who == "outsider" else "opens")


@pytest.mark.parametrize("name", ["log_state", "log_roll"])
def test_some_addresses_are_only_posted_to(
    name: str, entry: CheckIn, as_reader: Callable[[str], Client]
) -> None:
    assert outcome(as_reader("steward"), address(name, entry)) == "post only"


@pytest.fixture
def _on_air(monkeypatch: pytest.MonkeyPatch) -> None:
    for view in ("log", "log_sync", "log_import"):
        monkeypatch.setattr(f"nets.web.{view}.timezone.now", lambda: minutes(4))


@pytest.mark.usefixtures("_on_air")
@pytest.mark.parametrize("who", READERS)
def test_only_keepers_write(
    who: str, entry: CheckIn, as_reader: Callable[[str], Client], session: Session
) -> None:
    """Five ways to write: the form, a batch, a correction, the roll, a table."""
    line = rollcall.add(session, "QZ2MEM", by=BY)
    client = as_reader(who)
    client.post(address("log", entry), {"call_sign": "QX7TAC"})
    batch = {"operations": [{"do": "check_in", "key": str(uuid.uuid4()), "call_sign": "QX7TAD"}]}
    client.post(address("log_entries", entry), json.dumps(batch), "application/json")
    client.post(address("log_entry", entry), {"call_sign": "QX7TAE", "via": "simplex", "time": "19:32"})
    client.post(address("log_roll", entry), {"line": line.key, "state": "no_answer"})
    client.post(address("log_import", entry), {"text": "Call sign\nQX7TAF\n", "do": "save"})
    written = {"QX7TAC", "QX7TAD", "QX7TAE", "QX7TAF"} if who in KEEPERS else {"QX7TAB"}
    assert set(CheckIn.objects.values_list("call_sign", flat=True)) == written
    assert (RollCall.objects.get().state == "no_answer") == (who in KEEPERS)


@pytest.mark.usefixtures("_on_air")
@pytest.mark.parametrize("who", READERS)
def test_only_keepers_open_and_close(
    who: str, session: Session, cast: Cast, as_reader: Callable[[str], Client]
) -> None:
    Duty.objects.create(session=session, role=Duty.Role.BACKUP, member=cast.steward)
    address = reverse("nets:log_state", kwargs=SESSION)
    as_reader(who).post(address, {"do": "open"})
    assert SessionLog.objects.filter(opened_at__isnull=False).exists() == (who in KEEPERS)
    keeping.open_log(session, by=BY, now=ON_AIR)
    as_reader(who).post(address, {"do": "close"})
    assert SessionLog.objects.get().is_closed == (who in KEEPERS)
