"""What did not arrive is told to whoever watches over it, once."""

from __future__ import annotations

import datetime as dt

from django.core import mail as outgoing

from clubops.notices import kinds, outbox, reports
from clubops.notices.models import Notice
from tests.notices.conftest import NOW, PLAIN
from tests.notices.test_delivery import refused, run

State = Notice.State


def fail(notice: Notice) -> None:
    Notice.objects.filter(pk=notice.pk).update(state=State.FAILED, error="Why not.", needs_report=True)


def test_a_failure_is_reported_with_its_reason(member, enter, clock, manager):
    person = member()
    fail(enter(person))
    run(clock)
    (sent,) = outgoing.outbox
    assert sent.to == [manager.email]
    assert f"{person.call_sign}, plain test notice: the net. Why not." in sent.body


def test_a_failure_is_reported_once(member, enter, clock):
    fail(enter(member()))
    for _ in range(3):
        run(clock)
        clock.forward(hours=1)
    assert len(outgoing.outbox) == 1


def test_failures_join_the_report_that_is_still_waiting(member, enter, manager, plain_kind):
    for title in ("one", "two"):
        fail(enter(member(), title))
        assert reports.tell(now=NOW) == 1
    assert Notice.objects.get(kind=reports.KIND).reports_on.count() == 2


def test_a_failure_after_the_report_went_gets_a_report_of_its_own(member, enter, clock):
    fail(enter(member(), "one"))
    run(clock)
    fail(enter(member(), "two"))
    run(clock)
    assert [each.subject for each in outgoing.outbox] == ["One notice did not arrive"] * 2


def test_nothing_is_reported_that_arrived_after_all(member, enter, clock):
    notice = enter(member())
    fail(notice)
    reports.tell(now=NOW)
    outbox.resend(Notice.objects.filter(pk=notice.pk), now=NOW)
    run(clock)
    assert Notice.objects.get(kind=reports.KIND).state == State.WITHDRAWN
    assert [each.subject for each in outgoing.outbox] == ["the net"]


def test_a_report_that_fails_makes_no_report(member, enter, clock, manager):
    fail(enter(member()))
    run(clock, refused(550))
    clock.forward(hours=1)
    run(clock)
    assert Notice.objects.get(kind=reports.KIND).state == State.FAILED
    assert Notice.objects.filter(kind=reports.KIND).count() == 1


def test_a_failure_that_nobody_watches_is_left_to_the_office(member, enter, monkeypatch, plain_kind):
    monkeypatch.setitem(kinds._KINDS, PLAIN, kinds.Kind(PLAIN, "plain", plain_kind.render))
    notice = enter(member())
    fail(notice)
    assert reports.tell(now=NOW) == 0
    notice.refresh_from_db()
    assert (notice.needs_report, notice.report) == (False, None)


def test_a_report_goes_to_managers_who_want_no_reminders(member, enter, clock, manager):
    manager.wants_reminders = False
    manager.save()
    fail(enter(member()))
    run(clock)
    (sent,) = outgoing.outbox
    assert "List-Unsubscribe" not in sent.extra_headers


def test_a_long_report_says_how_much_it_leaves_out(member, enter, manager, plain_kind):
    person = member()
    for number in range(reports.MOST_LINES + 5):
        fail(enter(person, f"number {number}"))
    reports.tell(now=NOW)
    letter = reports.write(Notice.objects.get(kind=reports.KIND), NOW + dt.timedelta(hours=1))
    assert letter.facts[-1] == ("and", "5 more")
