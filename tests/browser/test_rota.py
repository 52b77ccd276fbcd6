"""The rota's pages in a real browser: nothing in anybody's way, and a draft made, published and a turn passed on."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from clubops.members.models import Member
from nets import schedule, swaps
from nets.models import Absence, Duty, RotaDraft
from nets.rota import draft as drafts
from nets.rota import publishing
from tests.browser.conftest import PHONE, WIDE
from tests.browser.test_look import barriers, phone_faults
from tests.conftest import make_member, make_station

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def club(net, cast, ground):
    """Three people whom the relay hears, one of them away at first; the coming sessions half filled."""
    today = timezone.now()
    schedule.plan_sessions(net, now=today)
    Member.objects.filter(pk=cast.manager.pk).update(takes_the_chair=False)
    third = make_member("QZ2TRD", takes_the_chair=True, is_experienced=True)
    for member in (cast.officer, cast.net_control, third):
        make_station(member)
    for member in (cast.officer, third):
        until = today.date() + dt.timedelta(days=9)
        Absence.objects.create(member=member, first_date=today.date(), last_date=until)
    publishing.fill(net, now=today, weeks=4)
    return {"third": third}


@pytest.fixture
def addresses(net, cast, club):
    """Every page of the rota, with something on it."""
    today = timezone.now()
    draft = drafts.ask(RotaDraft(net=net, minimum_gap_days=14), by=cast.manager, now=today)
    drafts.work_out(draft, now=today)
    turn = Duty.objects.filter(member=cast.net_control, session__starts_at__gt=today).last()
    others = Duty.objects.filter(member=club["third"], session__starts_at__gt=today)
    other = others.exclude(session__duties__member=cast.net_control).last()
    swaps.offer(other, to=cast.net_control, note="I am on the road.", now=today)
    return {
        "net manager": [
            reverse("nets:rota"),
            reverse("nets:rota_drafts"),
            reverse("nets:rota_draft", args=[draft.pk]),
            reverse("nets:swap_substitutes", args=[turn.pk]),
        ],
        "net control": [
            reverse("nets:rota_wishes"),
            reverse("nets:swaps"),
            reverse("nets:swap_offer", args=[turn.pk]),
        ],
    }


def opened(page):
    for reason in page.locator("details.why").all():
        reason.locator("summary").click()
    return phone_faults(page)


@pytest.mark.parametrize("reader", ["net manager", "net control"])
def test_nothing_stands_in_anybodys_way(visit, addresses, as_reader, reader):
    for address in addresses[reader]:
        assert visit(address, barriers, size=WIDE, client=as_reader(reader)) == [], address
        found = visit(address, opened, size=PHONE, theme="dark", client=as_reader(reader))
        assert found == ([], [], []), address


def test_a_manager_makes_and_publishes_a_rota_without_scripts(visit, club, as_reader):
    def make(page):
        page.click("text=Make the rota")
        page.click("text=Work it out")
        proven = page.locator("text=Proven the best there is").count()
        page.click("text=Publish it")
        return proven, page.locator("main h1").inner_text(), page.locator("text=This is the rota now").count()

    found = visit(reverse("nets:rota"), make, client=as_reader("net manager"), scripts=False)
    assert found == (1, "Rota", 1)
    assert Duty.objects.filter(session__starts_at__gt=timezone.now()).count() > 20


def test_a_turn_is_taken_with_one_press(visit, addresses, cast, as_reader):
    def take(page):
        page.click("text=Take it")
        return page.locator(".notice-success, .notice-problem").first.inner_text()

    said = visit(reverse("nets:swaps"), take, client=as_reader("net control"))
    assert "The turn is yours, and confirmed." in said
