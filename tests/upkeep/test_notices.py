"""What the ledger holds about upkeep, and what is written when it is sent."""

from __future__ import annotations

import datetime as dt

import pytest

from clubops.notices import delivery
from clubops.notices.kinds import Untrue
from clubops.notices.models import Notice
from clubops.notices.policy import Policy
from clubops.notices.wanted import Reconciled
from relays.models import Renewal
from relays.upkeep import due, letters, records, wishes
from tests.conftest import NOW, make_member
from tests.upkeep.conftest import DAY, TODAY, done, make_task, read

State = Notice.State
# The battery is due on 10 March.
DUE_ON = dt.date(2026, 3, 10)


def notices(kind, state=State.WAITING):
    return Notice.objects.filter(kind=kind, state=state).order_by("due_at", "recipient__call_sign")


def whom(kind):
    return [notice.recipient.call_sign for notice in notices(kind)]


def at_noon(day):
    return dt.datetime.combine(day, dt.time(16), dt.UTC)


def test_who_is_asked_is_reminded_once_in_the_morning(battery):
    wishes.top_up(now=NOW - 10 * DAY)
    notice = notices(wishes.DUE).get()
    assert notice.recipient == battery.responsible
    # Two weeks before 10 March, at eight in New York, where it is still winter time.
    assert notice.due_at == dt.datetime(2026, 2, 24, 13, tzinfo=dt.UTC)
    assert notice.not_after == dt.datetime(2026, 3, 11, 4, tzinfo=dt.UTC)


def test_planning_again_changes_nothing(battery, voltage):
    read(voltage, 11.0)
    wishes.top_up(now=NOW)
    before = list(Notice.objects.values())
    assert wishes.top_up(now=NOW + dt.timedelta(hours=2)) == Reconciled()
    assert list(Notice.objects.values()) == before


def test_the_reminder_keeps_to_the_clubs_wall_clock_across_the_change(battery):
    """Clocks go forward on 8 March: the task of 22 March is told of at eight by either clock."""
    battery.lead_days = 12
    battery.first_due_on = battery.postponed_to = dt.date(2026, 3, 22)
    battery.save()
    wishes.top_up(now=NOW)
    assert notices(wishes.DUE).get().due_at == dt.datetime(2026, 3, 10, 12, tzinfo=dt.UTC)


def test_what_is_far_away_is_not_planned_yet(site, cast):
    make_task(site, first_due_on=TODAY + 90 * DAY, responsible=cast.member)
    assert wishes.top_up(now=NOW) == Reconciled()


def test_done_in_time_withdraws_the_reminder(battery, cast):
    wishes.top_up(now=NOW - 10 * DAY)
    records.record(battery, records.Visit(TODAY - 10 * DAY, cast.member), now=NOW - 10 * DAY)
    assert wishes.top_up(now=NOW - 10 * DAY).withdrawn == 1


def test_another_responsible_person_is_reminded_instead(battery, cast):
    wishes.top_up(now=NOW)
    battery.responsible = cast.manager
    battery.save()
    assert wishes.top_up(now=NOW) == Reconciled(made=1, withdrawn=1)
    assert whom(wishes.DUE) == ["QZ2MGR"]


def test_the_stand_in_is_asked_when_somebody_has_left(battery, cast):
    cast.member.is_active = False
    cast.member.save()
    wishes.top_up(now=NOW)
    assert whom(wishes.DUE) == ["QZ2NCS"]


def test_a_task_of_nobody_is_told_to_the_steward(site, cast):
    site.steward = cast.steward
    site.save()
    make_task(site, first_due_on=TODAY + DAY)
    wishes.top_up(now=NOW)
    assert whom(wishes.DUE) == ["QZ2STW"]


@pytest.mark.parametrize(
    ("days_late", "told"),
    [
        (0, []),
        (1, ["QZ2MEM"]),
        (6, ["QZ2MEM"]),
        (7, ["QZ2MEM", "QZ2STW"]),
        (28, ["QZ2MEM", "QZ2STW", "QZ2OFF"]),
        (400, ["QZ2MEM", "QZ2STW", "QZ2OFF"]),
    ],
)
def test_an_overdue_task_climbs_the_ladder(battery, days_late, told):
    wishes.top_up(now=at_noon(DUE_ON + days_late * DAY))
    assert whom(wishes.OVERDUE) == told


def test_a_month_of_downtime_does_not_flood(battery, site, cast):
    """Three weekly tasks and a quarterly one, nobody home for a month: one notice a person and task."""
    for name in ("Listen", "Hours", "Door"):
        weekly = make_task(site, name=name, rhythm="days", every=7, lead_days=2, responsible=cast.member)
        done(weekly, TODAY)
    wishes.top_up(now=NOW)
    back = at_noon(TODAY + 31 * DAY)
    wishes.top_up(now=back)
    ready = Notice.objects.filter(state=State.WAITING, due_at__lte=back, not_after__gt=back)
    assert sorted(ready.values_list("kind", "recipient__call_sign")) == [
        *[(wishes.OVERDUE, "QZ2MEM")] * 4,
        *[(wishes.OVERDUE, "QZ2STW")] * 4,
    ]
    wishes.top_up(now=back + DAY)
    assert ready.count() == 8


def test_a_task_put_off_is_not_reminded_of_again_but_told_when_late_again(battery):
    wishes.top_up(now=NOW)
    Notice.objects.update(state=State.SENT, sent_at=NOW, claimed_at=NOW, attempts=1)
    due.shift([battery], days=7, today=TODAY)
    assert wishes.top_up(now=NOW) == Reconciled()
    wishes.top_up(now=at_noon(DUE_ON + 8 * DAY))
    assert whom(wishes.OVERDUE) == ["QZ2MEM"]


# Letters -------------------------------------------------------------------------------------------


def letter(kind, render, now=NOW, recipient="QZ2MEM"):
    return render(notices(kind).get(recipient__call_sign=recipient), now)


def test_the_reminder_says_what_can_hurt_and_defers(battery):
    wishes.top_up(now=NOW)
    made = letter(wishes.DUE, letters.task_due)
    assert made.subject == "Battery, High Ridge: due in 7 days"
    assert "burst" in made.lines[1]
    assert made.lines[-1] == letters.REMINDS
    assert made.links[0].url.endswith(f"/upkeep/{battery.pk}/")


def test_a_reminder_of_what_was_done_meanwhile_is_untrue(battery, cast):
    wishes.top_up(now=NOW)
    records.record(battery, records.Visit(TODAY, cast.member), now=NOW)
    with pytest.raises(Untrue):
        letter(wishes.DUE, letters.task_due)


@pytest.mark.parametrize("change", [{"is_active": False}, {"responsible": None, "stand_in": None}])
def test_a_reminder_of_what_is_no_longer_theirs_is_untrue(battery, change):
    wishes.top_up(now=NOW)
    for name, value in change.items():
        setattr(battery, name, value)
    battery.save()
    with pytest.raises(Untrue):
        letter(wishes.DUE, letters.task_due)


def test_a_steward_is_told_whom_it_waited_for(battery):
    late = at_noon(DUE_ON + 9 * DAY)
    wishes.top_up(now=late)
    made = letter(wishes.OVERDUE, letters.task_overdue, late, "QZ2STW")
    assert made.subject == "9 days overdue: Battery, High Ridge"
    assert "QZ2MEM, was asked" in made.lines[0]


def test_an_overdue_notice_of_what_was_done_meanwhile_is_untrue(battery, cast):
    late = at_noon(DUE_ON + 2 * DAY)
    wishes.top_up(now=late)
    records.record(battery, records.Visit(DUE_ON + 2 * DAY, cast.member), now=late)
    with pytest.raises(Untrue):
        letter(wishes.OVERDUE, letters.task_overdue, late)


# Readings ------------------------------------------------------------------------------------------


def test_a_reading_outside_is_told_once_until_it_comes_back(voltage, cast):
    read(voltage, 12.0, NOW - 2 * DAY)
    wishes.top_up(now=NOW - 2 * DAY)
    assert whom(wishes.OUTSIDE) == ["QZ2MEM", "QZ2STW"]
    read(voltage, 11.9, NOW - DAY)
    assert wishes.top_up(now=NOW - DAY).made == 0
    read(voltage, 12.6, NOW)
    assert wishes.top_up(now=NOW).withdrawn == 2
    read(voltage, 11.8, NOW + DAY)
    assert wishes.top_up(now=NOW + DAY).made == 2


def test_who_read_it_is_not_told_what_they_saw(voltage, cast):
    read(voltage, 12.0, by=cast.member)
    wishes.top_up(now=NOW)
    assert whom(wishes.OUTSIDE) == ["QZ2STW"]


def test_an_old_reading_is_no_news(voltage):
    read(voltage, 12.0, NOW - 15 * DAY)
    wishes.top_up(now=NOW)
    assert whom(wishes.OUTSIDE) == []


def test_the_letter_about_a_reading_says_value_limits_and_trend(voltage):
    read(voltage, 12.0)
    wishes.top_up(now=NOW)
    made = letter(wishes.OUTSIDE, letters.reading_outside)
    assert made.subject == "Resting voltage at High Ridge: 12\N{NO-BREAK SPACE}V"
    assert "below the low limit" in made.lines[0]
    assert dict(made.facts)["Trend"].startswith("1 reading so far")


def test_a_reading_put_right_before_sending_is_untrue(voltage):
    read(voltage, 12.0)
    wishes.top_up(now=NOW)
    read(voltage, 12.6, NOW + dt.timedelta(minutes=1))
    with pytest.raises(Untrue):
        letter(wishes.OUTSIDE, letters.reading_outside)


# Papers --------------------------------------------------------------------------------------------


@pytest.fixture
def lease(site, cast):
    site.steward = cast.steward
    site.lease_expires_on = TODAY + 60 * DAY
    site.save()
    return site


def test_a_paper_is_told_of_at_the_stage_it_is_in_and_no_earlier_one(lease):
    wishes.top_up(now=NOW)
    ready, coming = notices(wishes.RENEWAL)
    assert (ready.due_at, coming.due_at) == (
        wishes.morning(lease.lease_expires_on - 90 * DAY),
        wishes.morning(lease.lease_expires_on - 30 * DAY),
    )
    assert ready.not_after == coming.due_at


def test_a_paper_renewed_before_sending_is_untrue(lease, cast):
    wishes.top_up(now=NOW)
    notice = notices(wishes.RENEWAL).first()
    lease.lease_expires_on = TODAY + 1000 * DAY
    lease.save()
    with pytest.raises(Untrue):
        letters.renewal_coming(notice, NOW)
    assert wishes.top_up(now=NOW).withdrawn == 2


def test_a_paper_that_has_ended_goes_to_an_officer_too(lease):
    late = at_noon(TODAY + 62 * DAY)
    wishes.top_up(now=late)
    assert whom(wishes.RENEWAL) == ["QZ2OFF", "QZ2STW"]
    made = letter(wishes.RENEWAL, letters.renewal_coming, late, "QZ2OFF")
    assert "has ended" in made.lines[0]


def test_a_paper_of_the_whole_club_goes_to_who_is_responsible(db, cast):
    Renewal.objects.create(
        kind="insurance", name="Insurance", expires_on=TODAY + 10 * DAY, responsible=cast.manager
    )
    wishes.top_up(now=NOW)
    assert whom(wishes.RENEWAL) == ["QZ2MGR"]
    made = letter(wishes.RENEWAL, letters.renewal_coming, recipient="QZ2MGR")
    assert made.lines[0] == "Insurance, the club, holds until 13 March 2026, 10 days from now."


def test_somebody_who_left_is_written_to_no_more(battery, cast):
    make_member("QZ2OLD", is_active=False)
    for member in (cast.member, cast.net_control, cast.steward):
        member.is_active = False
        member.save()
    wishes.top_up(now=NOW)
    assert whom(wishes.DUE) == ["QZ2OFF"]


# All the way ---------------------------------------------------------------------------------------


def test_the_mail_goes_out_once_and_holds_its_cautions(battery, mailoutbox, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    wishes.top_up(now=NOW)
    for later in (0, 1, 2):
        at = NOW + later * dt.timedelta(hours=3)
        delivery.send_due(clock=lambda at=at: at, policy=Policy())
        wishes.top_up(now=at)
    (sent,) = mailoutbox
    assert sent.to == [battery.responsible.email]
    assert "Battery, High Ridge: due in 7 days" in sent.subject
    text = " ".join(sent.body.split())
    assert "can make a battery burst" in text
    assert "licensed practice decide" in text
    assert Notice.objects.get().state == State.SENT


def test_a_mail_about_what_was_done_meanwhile_is_never_sent(battery, cast, mailoutbox):
    wishes.top_up(now=NOW)
    records.record(battery, records.Visit(TODAY, cast.member), now=NOW)
    delivery.send_due(clock=lambda: NOW, policy=Policy())
    assert mailoutbox == []
    assert Notice.objects.get().state == State.WITHDRAWN
