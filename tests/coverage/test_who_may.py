"""Every address of the map and of its runs against every kind of reader."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from relays.models import CoverageRun
from tests.test_permissions import READERS

TENDS = {"steward", "officer"}


def outcome(client: Client, address: str) -> str:
    """What a reader is given; files are closed behind it."""
    response = client.get(address)
    response.close()
    return {200: "opens", 405: "post only"}.get(response.status_code, str(response.status_code))


@pytest.mark.parametrize("who", READERS)
@pytest.mark.parametrize("name", ["loss", "loss_file", "picture", "outlines"])
def test_where_relays_reach_is_public(
    name: str, who: str, done_run: CoverageRun, as_reader: Callable[[str], Client]
) -> None:
    assert outcome(as_reader(who), reverse(f"relays:{name}", args=["slope-2m"])) == "opens"


@pytest.mark.parametrize("who", READERS)
def test_the_ground_is_public(who: str, done_run: CoverageRun, as_reader: Callable[[str], Client]) -> None:
    assert outcome(as_reader(who), reverse("relays:relief")) == "opens"


@pytest.mark.parametrize("who", READERS)
def test_anybody_asks_about_a_place_and_posts_it(
    who: str, done_run: CoverageRun, as_reader: Callable[[str], Client]
) -> None:
    assert outcome(as_reader(who), reverse("relays:point")) == "post only"
    question = {"place": "35.97, -83.96", "radio": "mobile", "relay": "slope-2m"}
    assert as_reader(who).post(reverse("relays:point"), question).status_code == 200


@pytest.mark.parametrize("who", READERS)
def test_only_stewards_stop_a_run(
    who: str, done_run: CoverageRun, as_reader: Callable[[str], Client]
) -> None:
    CoverageRun.objects.update(state="waiting", raster="")
    as_reader(who).post(reverse("relays:cancel_coverage", args=[done_run.pk]))
    assert (CoverageRun.objects.get().state == "cancelled") == (who in TENDS)


@pytest.mark.parametrize("who", READERS)
def test_only_stewards_begin_one_again(
    who: str, done_run: CoverageRun, as_reader: Callable[[str], Client]
) -> None:
    CoverageRun.objects.update(state="failed", raster="")
    as_reader(who).post(reverse("relays:coverage_again", args=[done_run.pk]))
    assert (CoverageRun.objects.get().state == "waiting") == (who in TENDS)


@pytest.mark.parametrize("who", READERS)
def test_only_stewards_ask_for_what_is_missing(
    who: str, hill_relay: object, as_reader: Callable[[str], Client]
) -> None:
    as_reader(who).post(reverse("relays:ask_coverage"))
    assert CoverageRun.objects.exists() == (who in TENDS)


@pytest.mark.parametrize("name", ["cancel_coverage", "coverage_again"])
def test_a_link_alone_does_nothing(
    name: str, done_run: CoverageRun, as_reader: Callable[[str], Client]
) -> None:
    assert outcome(as_reader("officer"), reverse(f"relays:{name}", args=[done_run.pk])) == "post only"


def test_the_stewards_page_shows_each_state(
    done_run: CoverageRun, as_reader: Callable[[str], Client]
) -> None:
    page = as_reader("steward").get(reverse("relays:coverage")).content.decode()
    assert "Slope 2 m" in page
    assert f"{done_run.radials_done} of {done_run.radials_total}" in page


def test_the_office_stops_and_begins_runs(done_run: CoverageRun, as_reader: Callable[[str], Client]) -> None:
    address = reverse("admin:relays_coveragerun_changelist")
    CoverageRun.objects.update(state="failed", raster="")
    for action, state in (("begin_again", "waiting"), ("stop", "cancelled")):
        as_reader("steward").post(address, {"action": action, "_selected_action": [done_run.pk]})
        assert CoverageRun.objects.get().state == state
