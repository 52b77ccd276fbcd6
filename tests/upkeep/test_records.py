"""Visits, readings, papers and keys as verbs: once is once, and nonsense is refused."""

from __future__ import annotations

import datetime as dt
import math
import uuid

import pytest

from relays.models import KeyHolder, Reading, Renewal, UpkeepRecord
from relays.upkeep import keys, readings, records, renewals
from relays.upkeep.records import RecordRefused, Visit
from tests.conftest import NOW
from tests.upkeep.conftest import DAY, TODAY, make_task, read


def test_the_same_form_twice_is_one_visit(battery, voltage, cast):
    visit = Visit(TODAY, cast.member, values={voltage.pk: 12.7})
    first, made = records.record(battery, visit, now=NOW)
    again, made_again = records.record(battery, visit, now=NOW)
    assert (first, made, made_again) == (again, True, False)
    assert Reading.objects.count() == 1


def test_a_form_of_another_task_is_refused(battery, site, cast):
    visit = Visit(TODAY, cast.member)
    records.record(battery, visit, now=NOW)
    with pytest.raises(RecordRefused, match="another task"):
        records.record(make_task(site, name="Other"), visit, now=NOW)


@pytest.mark.parametrize(
    ("done_on", "sentence"),
    [(TODAY + DAY, "is in the future"), (dt.date(2006, 3, 3), "more than ten years ago")],
)
def test_a_day_nobody_can_have_been_there_is_refused(battery, cast, done_on, sentence):
    with pytest.raises(RecordRefused, match=sentence):
        records.record(battery, Visit(done_on, cast.member), now=NOW)
    assert not UpkeepRecord.objects.filter(done_on=done_on).exists()


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e300])
def test_a_value_no_meter_shows_is_refused_and_nothing_is_kept(battery, voltage, cast, value):
    before = UpkeepRecord.objects.count()
    with pytest.raises(RecordRefused):
        records.record(battery, Visit(TODAY, cast.member, values={voltage.pk: value}), now=NOW)
    assert (UpkeepRecord.objects.count(), Reading.objects.count()) == (before, 0)


def test_a_reading_of_another_task_is_refused(battery, site, cast):
    another = make_task(site, name="Other").reading_kinds.create(name="Tension", unit="kN")
    for number in (another.pk, 4711):
        with pytest.raises(RecordRefused, match="no reading with the number"):
            records.record(battery, Visit(TODAY, cast.member, values={number: 1.0}), now=NOW)
    assert not Reading.objects.exists()


def test_a_reading_of_an_earlier_day_is_taken_at_noon_there(battery, voltage, cast):
    records.record(battery, Visit(TODAY - DAY, cast.member, values={voltage.pk: 12.7}), now=NOW)
    assert Reading.objects.get().at == dt.datetime(2026, 3, 2, 17, tzinfo=dt.UTC)


def test_marking_done_today_twice_writes_once(battery, site, cast):
    tasks = [battery, make_task(site, name="Other")]
    assert records.mark_done_today(tasks, by=cast.steward, now=NOW) == 2
    assert records.mark_done_today(tasks, by=cast.officer, now=NOW) == 0


# Readings ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "side"), [(12.19, "low"), (12.2, "within"), (13.2, "within"), (13.21, "high"), (-5, "low")]
)
def test_a_value_on_a_limit_is_within_it(voltage, value, side):
    assert readings.judge(voltage, value).side == side


def test_a_meter_without_limits_judges_nothing(voltage):
    voltage.low = voltage.high = None
    assert readings.judge(voltage, 1e6).side == "open"
    assert readings.limits_in_words(voltage) == "no limit is set"


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [(12.2, None, "12.2 V or more"), (None, 2.0, "2 V or less"), (-3, 3, "\N{MINUS SIGN}3 to 3 V")],
)
def test_limits_in_words(voltage, low, high, words):
    voltage.low, voltage.high = low, high
    assert readings.limits_in_words(voltage).replace("\N{NO-BREAK SPACE}", " ") == words


def test_one_value_is_logged_once(voltage, cast):
    token = uuid.uuid4()
    assert readings.log(voltage, 12.5, at=NOW, by=cast.member, token=token)[1]
    assert not readings.log(voltage, 12.5, at=NOW + DAY, by=cast.member, token=token)[1]
    assert Reading.objects.count() == 1


def test_a_run_outside_ends_at_the_first_that_is_not(voltage):
    for days, value in enumerate((11.9, 12.0, 12.5, 11.0)):
        read(voltage, value, NOW - days * DAY)
    assert [row.value for row in readings.run_outside(readings.newest(voltage))] == [11.9, 12.0]


def test_a_swing_from_low_to_high_begins_a_new_run(voltage):
    for days, value in enumerate((14.0, 11.0)):
        read(voltage, value, NOW - days * DAY)
    assert [row.value for row in readings.run_outside(readings.newest(voltage))] == [14.0]


def test_the_outlook_names_the_limit_and_its_doubt(voltage):
    for months in range(12):
        read(voltage, 12.3 + 0.02 * months, NOW - 30 * months * DAY)
    said = readings.outlook(voltage, readings.newest(voltage)).sentence.replace("\N{NO-BREAK SPACE}", " ")
    assert said.startswith("Falling by about 0.24 V a year. At that rate")
    assert said.endswith("reaches the limit of 12.2 V about 31 July 2026, if nothing is changed.")


def test_the_outlook_of_scattered_readings_says_how_sure_it_is(voltage):
    scatter = (0.01, 0.05, -0.03, 0.02, -0.05, 0.04, 0.0, -0.02, 0.06, -0.01, 0.03, -0.04)
    for months, off in enumerate(scatter):
        read(voltage, 12.3 + 0.02 * months + off, NOW - 30 * months * DAY)
    said = readings.outlook(voltage, readings.newest(voltage)).sentence.replace("\N{NO-BREAK SPACE}", " ")
    assert "a year (90 % sure of 0." in said
    assert ", between " in said


# Papers --------------------------------------------------------------------------------------------


def test_dates_of_sites_and_relays_are_papers_too(site, relay):
    site.lease_expires_on = TODAY + 100 * DAY
    site.save()
    relay.licence_expires_on = TODAY - DAY
    relay.coordination_expires_on = TODAY + 121 * DAY
    relay.save()
    Renewal.objects.create(kind="insurance", name="Insurance", expires_on=TODAY, lead_days="10")
    found = [(paper.words, paper.state(TODAY)) for paper in renewals.papers()]
    assert found == [
        ("Licence", "ended"),
        ("Insurance", "coming"),
        ("Site lease", "coming"),
        ("Frequency coordination", "later"),
    ]


@pytest.mark.parametrize(
    ("until", "sentence"),
    [
        (TODAY - 20 * DAY, "is earlier"),
        (TODAY - DAY, "is past"),
        (dt.date(2400, 1, 1), "more than a hundred years away"),
    ],
)
def test_a_day_that_renews_nothing_is_refused(site, until, sentence):
    site.lease_expires_on = TODAY - 10 * DAY
    site.save()
    with pytest.raises(renewals.RenewalRefused, match=sentence):
        renewals.renew(renewals.papers()[0], until=until, today=TODAY)


# Keys ----------------------------------------------------------------------------------------------


def give(site, member, **changes):
    values = {"given_on": TODAY, "today": TODAY} | changes
    return keys.hand_out(site, member, values.pop("key", "Gate"), **values)


def test_a_key_is_in_one_hand(site, cast):
    give(site, cast.member)
    with pytest.raises(keys.KeyRefused, match="QZ2MEM; note first that it came back"):
        give(site, cast.manager)
    assert give(site, cast.member) == KeyHolder.objects.get()


def test_a_key_that_came_back_is_given_again(site, cast):
    row = give(site, cast.member)
    assert keys.take_back(row, on=TODAY)
    assert not keys.take_back(row, on=TODAY)
    assert give(site, cast.manager, key=" Gate ").member == cast.manager


def test_a_key_cannot_come_back_before_it_was_given(site, cast):
    row = give(site, cast.member)
    with pytest.raises(keys.KeyRefused, match="cannot come back"):
        keys.take_back(row, on=TODAY - DAY)
    with pytest.raises(keys.KeyRefused, match="in the future"):
        give(site, cast.manager, key="Other", given_on=TODAY + DAY)
