"""Planning in a real browser: the dates follow the choices, with scripts and without."""

import pytest
from django.utils import timezone

from nets import schedule
from nets.models import Duty, Net
from relays.models import Relay
from tests.browser.conftest import PHONE
from tests.browser.test_look import barriers, phone_faults

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def manager(as_reader):
    return as_reader("net manager")


@pytest.fixture
def coming(net):
    """The next session by the real clock, which is the one the server goes by."""
    now = timezone.now()
    schedule.plan_sessions(net, now=now)
    return net.sessions.filter(starts_at__gt=now).order_by("starts_at").first()


def test_the_dates_follow_the_choices_as_they_are_made(visit, manager, coming):
    def choose(page):
        page.check("[name=pattern][value=monthly_by_weekday]")
        page.uncheck("[name=days][value=TU]")
        page.check("[name=days][value=TH]")
        page.check("[name=ordinals][value='1']")
        page.check("[name=ordinals][value='3']")
        page.wait_for_selector("#preview b:has-text('first and third Thursday of the month at 19:30')")
        return page.locator("#preview tbody tr").count(), page.locator(".plan-ask li").first.inner_text()

    rows, told = visit("/nets/ridge-net/edit/", choose, client=manager)
    assert rows == 6
    assert "on Tuesday give way to" in told
    assert Net.objects.get().rule == "FREQ=WEEKLY;BYDAY=TU"


def test_only_what_belongs_to_the_chosen_way_is_shown(visit, manager, relay):
    def shown(page):
        found = {}
        for way in ("weekly", "monthly_by_weekday", "monthly_by_day", "daily", "written"):
            page.check(f"[name=pattern][value={way}]")
            parts = ("every", "days", "ordinals", "month-days", "written", "season")
            found[way] = [part for part in parts if page.locator(f".plan-{part}").is_visible()]
        return found

    assert visit("/nets/new/", shown, client=manager) == {
        "weekly": ["every", "days", "season"],
        "monthly_by_weekday": ["every", "days", "ordinals", "season"],
        "monthly_by_day": ["every", "month-days", "season"],
        "daily": ["every", "season"],
        "written": ["written"],
    }


def test_looking_first_works_without_scripts(visit, manager, relay):
    def look(page):
        page.fill("#id_name", "Valley Net")
        page.check("[name=days][value=WE]")
        page.fill("#id_start_time", "20:00")
        page.fill("#id_first_date", "2031-03-05")
        page.select_option("#id_relay", label="Ridge 2 m 146.730 MHz")
        page.click("text=Look first")
        return page.locator("#preview").inner_text(), page.input_value("#id_name")

    said, name = visit("/nets/new/", look, client=manager, scripts=False, size=PHONE)
    assert "It meets every Wednesday at 20:00, New York time." in said
    assert name == "Valley Net"
    assert not Net.objects.exists()


def test_a_question_leads_to_its_box_and_a_yes_saves(visit, manager, coming, cast):
    Duty.objects.create(session=coming, role=Duty.Role.NET_CONTROL, member=cast.net_control)

    def change(page):
        page.uncheck("[name=days][value=TU]")
        page.check("[name=days][value=TH]")
        page.click("button[name=save]")
        faults = barriers(page)
        page.click(".form-problems a")
        focused = page.evaluate("document.activeElement.name")
        page.keyboard.press("Space")
        page.click("button[name=save]")
        return faults, focused, page.locator(".notice").first.inner_text()

    faults, focused, said = visit("/nets/ridge-net/edit/", change, client=manager)
    assert (faults, focused) == ([], "agree")
    assert "Ridge Net is saved: every Thursday at 19:30." in said


def test_the_changes_of_a_session_are_as_easy_to_use(visit, manager, coming):
    def refuse(page):
        page.click("text=Call it off")
        page.click("text=Call this session off")
        page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
        return phone_faults(page)

    address = f"/nets/ridge-net/{coming.occurrence_date.isoformat()}/change/"
    assert visit(address, refuse, size=PHONE, theme="dark", client=manager) == ([], [], [])


def test_conflicts_are_as_easy_to_use(visit, manager, coming):
    Relay.objects.update(status=Relay.Status.OFF_AIR)

    def read(page):
        return page.locator(".agenda li").count(), phone_faults(page)

    assert visit("/nets/conflicts/", read, size=PHONE, client=manager) == (1, ([], [], []))
