"""The ledger in the office: to look at, and to send again what did not arrive."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from clubops.notices.models import Notice
from tests.conftest import Cast
from tests.notices.test_pages import coming_notice

State = Notice.State
LIST = "admin:notices_notice_changelist"


@pytest.fixture
def failed(cast: Cast) -> Notice:
    return coming_notice(cast.member, state=State.FAILED, error="The address was refused: 550 no.")


def send_again(client, notice: Notice):
    chosen = {"action": "send_again", "_selected_action": [notice.pk]}
    return client.post(reverse(LIST), chosen, follow=True).content.decode()


def test_the_office_sees_what_failed_and_why(as_reader, failed):
    page = as_reader("officer").get(reverse(LIST), {"what": "not"}).content.decode()
    assert "The address was refused: 550 no." in page
    assert "Net control, Ridge Net" in page


@pytest.mark.parametrize("what", ["due", "soon", "out", "not"])
def test_each_question_has_its_own_answer(as_reader, cast: Cast, what):
    now = timezone.now()
    day = dt.timedelta(days=1)
    rows = {
        "due": {"due_at": now - day, "not_after": now + day},
        "soon": {"due_at": now + day, "not_after": now + 2 * day},
        "out": {"state": State.SENT, "sent_at": now},
        "not": {"state": State.MISSED, "error": "Too late."},
    }
    for name, given in rows.items():
        coming_notice(cast.member, key=name, message_id=name, title=f"about {name}.", **given)
    page = as_reader("officer").get(reverse(LIST), {"what": what}).content.decode()
    assert [name for name in rows if f"about {name}." in page] == [what]


def test_the_summary_counts(as_reader, cast: Cast):
    coming_notice(cast.member, due_at=timezone.now() - dt.timedelta(hours=1))
    page = as_reader("officer").get(reverse(LIST)).content.decode()
    assert "<b>1</b> due now" in page
    assert "Sending has never run" in page


@pytest.mark.parametrize("who", ["officer", "net manager"])
def test_what_failed_is_sent_again_once(as_reader, failed, who):
    assert "1 will be tried again" in send_again(as_reader(who), failed)
    failed.refresh_from_db()
    assert failed.state == State.WAITING
    assert "1 stay as they are" in send_again(as_reader(who), failed)


def test_what_was_sent_cannot_be_sent_again(as_reader, cast: Cast):
    sent = coming_notice(cast.member, state=State.SENT, sent_at=timezone.now())
    assert "1 stay as they are" in send_again(as_reader("officer"), sent)
    sent.refresh_from_db()
    assert sent.state == State.SENT


def test_nobody_edits_or_tears_out_a_row(as_reader, failed):
    browser = as_reader("officer")
    page = browser.get(reverse("admin:notices_notice_change", args=[failed.pk]))
    assert page.status_code == 200
    assert b'name="_save"' not in page.content
    assert browser.post(reverse("admin:notices_notice_delete", args=[failed.pk])).status_code == 403
    assert browser.get(reverse("admin:notices_notice_add")).status_code == 403


def test_unasked_the_ledger_shows_the_weeks_around_today(as_reader, cast: Cast):
    now = timezone.now()
    for name, days in {"last year": -300, "this week": 2, "next year": 300}.items():
        at = now + dt.timedelta(days=days)
        coming_notice(cast.member, key=name, message_id=name, title=f"about {name}.", due_at=at, not_after=at)
    page = as_reader("officer").get(reverse(LIST)).content.decode()
    assert [name for name in ("last year", "this week", "next year") if f"about {name}." in page] == [
        "this week"
    ]


def test_a_search_looks_through_all_of_it(as_reader, cast: Cast):
    at = timezone.now() + dt.timedelta(days=300)
    coming_notice(cast.member, title="about next year.", due_at=at, not_after=at)
    assert "about next year." in as_reader("officer").get(reverse(LIST), {"q": "next year"}).content.decode()


def test_what_is_to_come_begins_with_what_comes_next(as_reader, cast: Cast):
    for name, days in {"later": 5, "sooner": 1}.items():
        at = timezone.now() + dt.timedelta(days=days)
        coming_notice(cast.member, key=name, message_id=name, title=f"{name}.", due_at=at, not_after=at)
    page = as_reader("officer").get(reverse(LIST), {"what": "soon"}).content.decode()
    assert page.index("sooner.") < page.index("later.")
