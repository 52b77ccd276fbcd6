"""Quantities as pages say them: units, signs, zones, chances."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from clubops.templatetags import measures

NBSP = "\N{NO-BREAK SPACE}"
# 2026-03-03 19:30 in New York is 2026-03-04 00:30 UTC; tz database 2025b by way of zoneinfo.
TUESDAY_EVENING = datetime(2026, 3, 4, 0, 30, tzinfo=UTC)
NEW_YORK = "America/New_York"


def plain(text):
    return text.replace(NBSP, " ")


@pytest.mark.parametrize(
    ("say", "value", "said"),
    [
        (measures.db, 128.44, "128.4 dB"),
        (measures.db, -2.16, "−2.2 dB"),
        (measures.margin_db, 12.4, "+12.4 dB"),
        (measures.margin_db, -0.04, "0.0 dB"),
        (measures.margin_db, -3, "−3.0 dB"),
        (measures.km, 0.64, "640 m"),
        (measures.km, 0.9996, "1 km"),
        (measures.km, 8.26, "8.3 km"),
        (measures.km, 9.96, "10 km"),
        (measures.km, 41.7, "42 km"),
        (measures.metres, 1.5, "1.5 m"),
        (measures.metres, 300.0, "300 m"),
        (measures.mhz, Decimal("146.7000"), "146.700 MHz"),
        (measures.mhz, Decimal("433.0125"), "433.0125 MHz"),
        (measures.offset_mhz, Decimal("-0.6000"), "−0.600 MHz"),
        (measures.offset_mhz, Decimal("5.0000"), "+5.000 MHz"),
        (measures.offset_mhz, Decimal("0.0000"), "none"),
        (measures.tone_hz, Decimal("103.5"), "103.5 Hz"),
        (measures.watts, 5.0, "5 W"),
        (measures.watts, 0.5, "0.5 W"),
        (measures.watts, 0.025, "0.025 W"),
        (measures.watts, 100.0, "100 W"),
        (measures.latitude, -36.12344, "36.1234° south"),
        (measures.longitude, -84.2, "84.2000° west"),
        (measures.percent, 0.834, "83 %"),
        (measures.whole_date, date(2026, 3, 3), "3 March 2026"),
        (measures.in_minutes, timedelta(minutes=90), "1 hour 30 minutes"),
        (measures.in_minutes, timedelta(minutes=15), "15 minutes"),
        (measures.in_minutes, timedelta(0), "0 minutes"),
    ],
)
def test_it_says_the_number_with_its_unit(say, value, said):
    assert plain(say(value)) == said


@pytest.mark.parametrize(
    "say",
    [
        measures.db, measures.margin_db, measures.km, measures.metres, measures.mhz, measures.offset_mhz,
        measures.tone_hz, measures.watts, measures.percent, measures.how_sure, measures.latitude,
        measures.longitude, measures.whole_date, measures.in_minutes,
    ],
)  # fmt: skip
def test_it_says_so_when_a_number_is_not_known(say):
    assert say(None) == "not known"


def test_a_number_never_parts_from_its_unit_at_the_end_of_a_line():
    assert " " not in measures.km(12) + measures.mhz(Decimal("146.7")) + measures.margin_db(3)


@pytest.mark.parametrize(
    ("chance", "said"), [(0.0, "less than 1 %"), (1.0, "over 99 %"), (0.996, "over 99 %")]
)
def test_it_never_claims_certainty(chance, said):
    assert plain(measures.percent(chance)) == said


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.97, "very likely"),
        (0.83, "likely"),
        (0.5, "as likely as not"),
        (0.2, "unlikely"),
        (0.01, "very unlikely"),
    ],
)
def test_a_chance_is_put_in_words_beside_its_number(chance, words):
    assert plain(measures.how_sure(chance)) == f"{words} ({round(100 * chance)} % chance)"


def test_a_chance_is_not_put_as_a_share_of_the_time():
    words = {word for _, phrase in measures.CHANCE_WORDS for word in phrase.split()}
    assert not {"always", "usually", "often", "time", "seldom", "ever", "never"} & words


def test_a_better_chance_never_gets_worse_words():
    worst_first = [words for _, words in reversed(measures.CHANCE_WORDS)]
    ranks = [worst_first.index(measures.how_sure(n / 100).split(" (")[0]) for n in range(101)]
    assert ranks == sorted(ranks)


@pytest.mark.parametrize(
    ("zone", "said"),
    [
        (NEW_YORK, "New York time"),
        ("America/Argentina/Buenos_Aires", "Buenos Aires time"),
        ("UTC", "UTC"),
        ("Etc/GMT+5", "Etc/GMT+5"),
        ("", "UTC"),
    ],
)
def test_a_zone_is_named_as_people_name_it(zone, said):
    assert measures.zone_words(zone) == said


def test_a_time_is_given_at_the_place_with_its_zone():
    assert measures.wall_time(TUESDAY_EVENING, NEW_YORK) == "Tuesday 3 March 2026, 19:30 New York time"


def test_utc_names_its_weekday_only_where_it_is_another_day():
    assert measures.utc_time(TUESDAY_EVENING, NEW_YORK) == "00:30 UTC Wednesday"
    assert measures.utc_time(TUESDAY_EVENING, "Europe/London") == "00:30 UTC"


def test_the_machine_readable_time_is_utc():
    assert measures.iso_utc(TUESDAY_EVENING) == "2026-03-04T00:30Z"


def test_the_date_in_the_margin_is_the_local_one():
    parts = (measures.weekday, measures.day, measures.month)
    assert [part(TUESDAY_EVENING, NEW_YORK) for part in parts] == ["Tue", 3, "Mar"]
