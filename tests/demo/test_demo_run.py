"""The demo's steps: run twice they change nothing and lose nothing, and the club is one a form would accept."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any

import pytest
from django.apps import apps
from rich.console import Console

from clubops.members.licences import LicenceClass
from clubops.members.models import Member, User
from clubops.members.segments import overlaps
from nets import demo, demo_report, demo_run, privileges
from nets.models import Duty, Net, Session
from relays.models import PathVerdict, Relay
from tests.conftest import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.MEDIA_ROOT = tmp_path / "files"
    monkeypatch.setattr(demo, "LOGINS_FILE", tmp_path / "logins.json")


def run(*, with_maps: bool = False) -> None:
    """Every step; the maps only where they are asked about, for they take the longest."""
    for _title, step in demo_run.STEPS:
        if with_maps or step is not demo_run.draw_coverage:
            step(NOW, lambda done, total: None)


# Counters of how often a calendar was looked at; its bytes, tag and date are compared.
HOUSEKEEPING = {"touched", "built"}


def everything() -> dict[str, list[dict[str, Any]]]:
    """Every row of the club's own apps."""
    return {
        model._meta.label: [
            {name: value for name, value in row.items() if name not in HOUSEKEEPING}
            for row in model.objects.order_by("pk").values()
        ]
        for app in ("members", "notices", "relays", "nets")
        for model in apps.get_app_config(app).get_models()
    }


def test_running_it_twice_changes_nothing() -> None:
    run(with_maps=True)
    first = everything()
    run(with_maps=True)
    assert everything() == first


def test_what_people_changed_is_kept() -> None:
    run()
    Member.objects.filter(call_sign="QZ2EMI").update(name="Emi Renamed")
    run()
    assert Member.objects.get(call_sign="QZ2EMI").name == "Emi Renamed"


def test_every_station_has_a_verdict_on_every_relay() -> None:
    run()
    stations = sum(member.stations.count() for member in Member.objects.all())
    assert PathVerdict.objects.filter(state="computed").count() == stations * Relay.objects.count()


def test_it_has_paths_that_work_and_paths_that_do_not() -> None:
    """A demo in which everything works teaches nothing."""
    run()
    margins = [verdict.margin_db for verdict in PathVerdict.objects.all()]
    assert min(margins) < -10
    assert max(margins) > 20


def test_nobody_sits_where_the_relay_does_not_hear_them() -> None:
    run()
    for duty in Duty.objects.exclude(session__net__relay=None).select_related("session__net", "station"):
        verdict = PathVerdict.objects.get(station=duty.station, relay=duty.session.net.relay)
        assert verdict.margin_db >= duty.session.net.minimum_margin_db


def test_nobody_sits_where_their_licence_does_not_cover_it() -> None:
    """Two classes have a table, one has none, and some chair is refused for it."""
    run()
    rows = Duty.objects.select_related("session__net", "station", "member__licence_class")
    assert rows
    for duty in rows:
        assert not privileges.verdict(duty.session, duty.member, duty.station).is_refused
    fin = Member.objects.get(call_sign="QZ2FIN")
    (ridge,) = Session.objects.filter(net__slug="tuesday-ridge-net", starts_at__gt=NOW)[:1]
    assert privileges.verdict(ridge, fin, fin.stations.get()).fault == "frequency"


def test_its_classes_are_marked_as_invented() -> None:
    run()
    rows = LicenceClass.objects.all()
    assert rows
    assert all("(invented)" in each.name and each.note.startswith("Invented for the demo") for each in rows)
    assert sorted(bool(each.segments) for each in rows) == [False, True, True]
    assert not any(overlaps(each.segments) for each in rows)


def test_the_coming_week_is_planned() -> None:
    run()
    soon = Session.objects.filter(starts_at__lt=NOW + dt.timedelta(days=7))
    assert {session.net.slug for session in soon} >= {"tuesday-ridge-net", "first-steps"}


def test_each_role_can_log_in() -> None:
    run()
    logins = demo.logins()
    assert {login.role for login in logins} == {
        "Officer",
        "Relay steward",
        "Net manager",
        "Net control",
        "Member",
    }
    assert all(User.objects.get(username=login.username).check_password(login.password) for login in logins)


def test_the_summary_names_every_relay_and_every_net_on_one() -> None:
    run()
    printed = _text(demo_report.summary(now=NOW, address="http://127.0.0.1:8000"))
    named = [*Relay.objects.all(), *Net.objects.exclude(relay=None)]
    assert all(each.name in printed for each in named)


def _text(group: Any) -> str:
    console = Console(width=160, file=io.StringIO())
    console.print(group)
    return console.file.getvalue()
