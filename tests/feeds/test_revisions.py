"""After readers have cached a calendar: identities stay, numbers only rise, and what ended is told."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable

import icalendar
import pytest

from nets import feeds, rule_changes, schedule
from nets.models import CalendarEntry, Duty, FeedKey, Net, Session
from tests.conftest import NOW, Cast
from tests.feeds.conftest import TWELVE_WEEKS
from tests.feeds.readers import agenda_between, events, identity, seen_between, significant, stored

LATER = NOW + dt.timedelta(hours=1)


def next_session(net: Net) -> Session:
    return net.sessions.filter(starts_at__gt=NOW).earliest("starts_at")


def rebuilt(key: str, now: dt.datetime = LATER) -> list[icalendar.Event]:
    feeds.rebuild_changed(now=now)
    return events(stored(key))


def the_override(found: list[icalendar.Event]) -> icalendar.Event:
    [event] = [each for each in found if "RECURRENCE-ID" in each]
    return event


def test_building_again_changes_no_byte(built: Net) -> None:
    before = stored("club")
    assert feeds.rebuild_changed(now=NOW + dt.timedelta(days=3)) == 0
    assert stored("club") == before


def test_a_session_called_off_outranks_its_series(built: Net) -> None:
    [series] = events(stored(f"net:{built.pk}"))
    schedule.call_off(next_session(built), note="Storm.")
    event = the_override(rebuilt(f"net:{built.pk}"))
    assert event["UID"] == series["UID"]
    assert event["SEQUENCE"] > series["SEQUENCE"]
    assert (str(event["STATUS"]), str(event["DESCRIPTION"])) == ("CANCELLED", "Storm.")


def test_a_session_put_back_stays_in_the_calendar_with_a_higher_number(built: Net) -> None:
    session = next_session(built)
    schedule.call_off(session, note="Storm.")
    off = the_override(rebuilt(f"net:{built.pk}"))
    schedule.restore(session)
    on = the_override(rebuilt(f"net:{built.pk}"))
    assert str(on["STATUS"]) == "CONFIRMED"
    assert on["SEQUENCE"] > off["SEQUENCE"]


def test_a_changed_session_whose_row_was_deleted_is_told_to_be_as_the_rule_says(built: Net) -> None:
    session = next_session(built)
    by_rule = session.starts_at
    session.moved_to = by_rule + dt.timedelta(hours=1)
    schedule.amend(session)
    moved = the_override(rebuilt(f"net:{built.pk}"))
    session.delete()
    schedule.plan_sessions(built, now=NOW)
    back = the_override(rebuilt(f"net:{built.pk}"))
    assert back["DTSTART"].dt == by_rule
    assert back["SEQUENCE"] > moved["SEQUENCE"]


def test_an_added_session_whose_row_was_deleted_is_told_to_be_off(built: Net) -> None:
    extra = Session(net=built, occurrence_date=dt.date(2026, 3, 6))
    schedule.amend(extra)
    rebuilt(f"net:{built.pk}")
    extra.delete()
    [event] = [each for each in rebuilt(f"net:{built.pk}") if "RRULE" not in each]
    assert str(event["STATUS"]) == "CANCELLED"


def test_what_was_called_off_is_kept_for_months_and_not_for_ever(built: Net) -> None:
    schedule.call_off(next_session(built), note="Storm.")
    after_three_months = NOW + dt.timedelta(days=90)
    the_override(rebuilt(f"net:{built.pk}", after_three_months))
    after_five_months = NOW + dt.timedelta(days=150)
    assert all("RECURRENCE-ID" not in each for each in rebuilt(f"net:{built.pk}", after_five_months))


def test_a_new_hour_raises_the_number_of_the_series(built: Net) -> None:
    [before] = events(stored(f"net:{built.pk}"))
    built.start_time = dt.time(20, 0)
    built.save()
    schedule.plan_sessions(built, now=NOW)
    [after] = [each for each in rebuilt(f"net:{built.pk}") if "RRULE" in each]
    assert after["UID"] == before["UID"]
    assert after["SEQUENCE"] > before["SEQUENCE"]
    assert after["LAST-MODIFIED"].dt == LATER


def test_a_relay_on_another_frequency_is_told(built: Net) -> None:
    built.relay.output_mhz = "146.790"
    built.relay.save()
    [event] = rebuilt(f"net:{built.pk}")
    assert str(event["LOCATION"]) == "Ridge 2 m, 146.790 MHz"
    assert event["SEQUENCE"] == 1


def test_a_script_is_nothing_that_calendars_say(built: Net) -> None:
    built.script = "Another one."
    built.save()
    assert feeds.rebuild_changed(now=LATER) == 0


# Duties --------------------------------------------------------------------------------------------


def test_a_chair_that_was_taken_away_is_shown_as_off(
    key: FeedKey, net: Net, cast: Cast, give: Callable[..., Duty]
) -> None:
    give(next_session(net), cast.net_control)
    mine = f"member:{cast.net_control.pk}"
    [held] = rebuilt(mine)
    give(next_session(net), cast.manager)
    [lost] = rebuilt(mine)
    assert lost["UID"] == held["UID"]
    assert lost["SEQUENCE"] > held["SEQUENCE"]
    assert (str(lost["STATUS"]), str(lost["TRANSP"])) == ("CANCELLED", "TRANSPARENT")


def test_a_chair_given_back_goes_on_counting(
    key: FeedKey, net: Net, cast: Cast, give: Callable[..., Duty]
) -> None:
    mine, numbers, uids = f"member:{cast.net_control.pk}", [], set()
    for holder in (cast.net_control, cast.manager, cast.net_control):
        give(next_session(net), holder)
        [event] = rebuilt(mine)
        numbers.append(event["SEQUENCE"])
        uids.add(event["UID"])
    assert numbers == sorted(set(numbers))
    assert len(uids) == 1


def test_a_declined_duty_no_longer_blocks_the_evening(
    key: FeedKey, net: Net, cast: Cast, give: Callable[..., Duty]
) -> None:
    duty = give(next_session(net), cast.net_control)
    duty.state = Duty.State.DECLINED
    duty.save()
    [event] = rebuilt(f"member:{cast.net_control.pk}")
    assert (str(event["STATUS"]), str(event["TRANSP"])) == ("CANCELLED", "TRANSPARENT")


# Everything at once --------------------------------------------------------------------------------


class Club:
    """Somebody who edits at random, through the same verbs as the pages."""

    def __init__(self, net: Net, cast: Cast, give: Callable[..., Duty], seed: int) -> None:
        self.net, self.cast, self.give, self.draw = net, cast, give, random.Random(seed)

    def edit(self) -> None:
        session = self.draw.choice(list(self.net.sessions.filter(starts_at__gt=NOW)))
        session.net = self.net
        self.draw.choice(
            [
                self.call_off,
                self.put_back,
                self.move,
                self.move,
                self.delete,
                self.hold,
                self.hold,
                self.change_rule,
                self.add,
            ]
        )(session)
        schedule.plan_sessions(self.net, now=NOW)

    def call_off(self, session: Session) -> None:
        schedule.call_off(session, note="Off.")

    def put_back(self, session: Session) -> None:
        schedule.restore(session)

    def move(self, session: Session) -> None:
        hours = self.draw.choice((0, 1, 30))
        session.moved_to = session.starts_at + dt.timedelta(hours=hours) if hours else None
        schedule.amend(session)

    def delete(self, session: Session) -> None:
        session.delete()

    def hold(self, session: Session) -> None:
        self.give(session, self.draw.choice((self.cast.net_control, self.cast.manager)))

    def change_rule(self, session: Session) -> None:
        self.net.refresh_from_db()
        self.net.start_time = dt.time(self.draw.choice((19, 20)), 30)
        self.net.rule = self.draw.choice(
            ("FREQ=WEEKLY;BYDAY=TU", "FREQ=WEEKLY;BYDAY=TU,TH", "FREQ=WEEKLY;BYDAY=WE")
        )
        self.net.first_date = session.occurrence_date
        rule_changes.adopt(self.net, now=NOW)

    def add(self, session: Session) -> None:
        day = session.occurrence_date + dt.timedelta(days=self.draw.choice((1, 2)))
        if not self.net.sessions.filter(occurrence_date=day).exists():
            schedule.amend(Session(net=self.net, occurrence_date=day))


@pytest.mark.parametrize("seed", range(3))
def test_whatever_is_edited_numbers_rise_and_pages_and_calendars_agree(
    seed: int, key: FeedKey, net: Net, cast: Cast, give: Callable[..., Duty]
) -> None:
    club = Club(net, cast, give, seed)
    calendars = (f"net:{net.pk}", f"member:{cast.net_control.pk}", f"relay:{net.relay_id}")
    told: dict[tuple[str, ...], tuple[int, tuple[str, ...]]] = {}
    for step in range(25):
        club.edit()
        feeds.rebuild_changed(now=NOW + dt.timedelta(minutes=step))
        for name in calendars:
            for event in events(stored(name)):
                number, says = int(event["SEQUENCE"]), significant(event)
                before, said = told.get((name, *identity(event)), (-1, ()))
                assert number >= before
                assert number > before or says == said
                told[name, *identity(event)] = (number, says)
        span = (NOW, NOW + TWELVE_WEEKS)
        assert {each for each in seen_between(stored(calendars[0]), *span) if not each.called_off} == {
            each for each in agenda_between(*span) if not each.called_off
        }
    assert CalendarEntry.objects.filter(kind=CalendarEntry.Kind.SESSION).count() > 3
