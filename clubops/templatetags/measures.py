"""Numbers with their units, times with their zones, chances in words: how pages say quantities.

Every filter answers "not known" for None, so that a page never shows an empty unit. Numbers are tied to their
units by a no-break space and carry a real minus sign.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django import template
from django.utils.dateformat import format as date_format
from django.utils.translation import gettext, pgettext

from clubops import clock

register = template.Library()

NOT_KNOWN = "not known"
TIE = "\N{NO-BREAK SPACE}"
MINUS = "\N{MINUS SIGN}"

Number = float | int | Decimal

# Words for a chance, best first: common practice, no source. The number always stands beside them. They say
# how likely it is that a path does at all, not how often it does: the chance is no share of the time.
CHANCE_WORDS = (
    (0.95, "very likely"),
    (0.8, "likely"),
    (0.6, "more likely than not"),
    (0.4, "as likely as not"),
    (0.15, "unlikely"),
    (0.0, "very unlikely"),
)


def _say(figure: str, unit: str) -> str:
    return figure.replace("-", MINUS) + TIE + unit


def _plain(value: Number, places: int) -> str:
    """At most `places` decimals, no trailing zeros, and no minus on a rounded nought."""
    figure = f"{value:.{places}f}"
    if "." in figure:
        figure = figure.rstrip("0").rstrip(".")
    return "0" if figure == "-0" else figure


def _signed(value: Number, places: int) -> str:
    figure = f"{value:+.{places}f}"
    return figure[1:] if not float(figure) else figure


@register.filter
def db(value: Number | None) -> str:
    """A loss or a gain, one decimal: 128.4 dB."""
    return NOT_KNOWN if value is None else _say(f"{value:.1f}", "dB")


@register.filter
def margin_db(value: Number | None) -> str:
    """A margin with its sign, one decimal: +12.4 dB."""
    return NOT_KNOWN if value is None else _say(_signed(value, 1), "dB")


@register.filter
def km(value: Number | None) -> str:
    """A distance in km: metres below one km, one decimal below ten, whole above."""
    if value is None:
        return NOT_KNOWN
    distance_km = float(value)
    if abs(distance_km) < 0.9995:
        return _say(_plain(distance_km * 1000, 0), "m")
    return _say(_plain(distance_km, 1 if abs(distance_km) < 9.95 else 0), "km")


@register.filter
def metres(value: Number | None) -> str:
    """A height, at most one decimal: 12 m, 1.5 m."""
    return NOT_KNOWN if value is None else _say(_plain(value, 1), "m")


@register.filter
def metres_whole(value: Number | None) -> str:
    """A height to the metre: 1076 m."""
    return NOT_KNOWN if value is None else _say(_plain(value, 0), "m")


@register.filter
def two_places(value: Number | None, unit: str) -> str:
    """A line of a sum, signed, to 0.01: −95.69 dB."""
    return NOT_KNOWN if value is None else _say(f"{value:+.2f}", unit)


@register.filter
def units(value: float) -> str:
    """A length inside a drawing, a tenth of a unit, with a point whatever the language of the page."""
    return f"{value:.1f}"


@register.filter
def mhz(value: Number | None) -> str:
    """A frequency as radios show it: three decimals, four where the fourth is not nought."""
    return NOT_KNOWN if value is None else _say(_megahertz(value), "MHz")


@register.filter
def offset_mhz(value: Number | None) -> str:
    """An offset with its sign, or "none" where a relay sends and hears on one frequency."""
    if value is None:
        return NOT_KNOWN
    if not value:
        return "none"
    return _say(("+" if value > 0 else "") + _megahertz(value), "MHz")


def _megahertz(value: Number) -> str:
    figure = f"{value:.4f}"
    return figure[:-1] if figure.endswith("0") else figure


@register.filter
def tone_hz(value: Number | None) -> str:
    """A CTCSS tone: 103.5 Hz."""
    return NOT_KNOWN if value is None else _say(f"{value:.1f}", "Hz")


@register.filter
def watts(value: Number | None) -> str:
    """A power: 5 W, 0.5 W, 250 W."""
    if value is None:
        return NOT_KNOWN
    return _say(_plain(value, 1 if value >= 10 else 3), "W")


@register.filter
def percent(value: Number | None) -> str:
    """A probability of 0 to 1 as a percentage that never claims certainty."""
    if value is None:
        return NOT_KNOWN
    if value < 0.01:
        return f"less than 1{TIE}%"
    if value > 0.99:
        return f"over 99{TIE}%"
    return f"{100 * value:.0f}{TIE}%"


@register.filter
def how_sure(value: Number | None) -> str:
    """A probability in words with its number: likely (83 % chance)."""
    if value is None:
        return NOT_KNOWN
    words = next(words for least, words in CHANCE_WORDS if value >= least)
    return f"{words} ({percent(value)} chance)"


@register.filter
def zone_words(zone: str | None) -> str:
    """The zone as people say it: New York time for America/New_York, UTC for UTC."""
    if not zone:
        return "UTC"
    area, _, place = zone.rpartition("/")
    if not area or area == "Etc":
        return zone
    return gettext("%(place)s time") % {"place": place.replace("_", " ")}


@register.filter
def wall_time(at: dt.datetime | None, zone: str) -> str:
    """An instant in full at a place: Tuesday 3 March 2026, 19:30 New York time."""
    if at is None:
        return NOT_KNOWN
    when = date_format(clock.to_wall(at, zone), pgettext("date and time", "l j F Y, H:i"))
    return pgettext("date and time with its zone", "%(when)s %(zone)s") % {
        "when": when,
        "zone": zone_words(zone),
    }


@register.filter
def clock_time(at: dt.datetime, zone: str) -> str:
    """Hours and minutes at a place: 19:30."""
    return f"{clock.to_wall(at, zone):%H:%M}"


@register.filter
def utc_time(at: dt.datetime, zone: str = "UTC") -> str:
    """The same instant in UTC; the weekday is named where it is another day than in `zone`."""
    utc = clock.to_wall(at, "UTC")
    other_day = utc.date() != clock.to_wall(at, zone).date()
    return f"{utc:%H:%M} UTC" + (f" {utc:%A}" if other_day else "")


@register.filter
def weekday(at: dt.datetime, zone: str) -> str:
    """Tue, at that place."""
    return f"{clock.to_wall(at, zone):%a}"


@register.filter
def day(at: dt.datetime, zone: str) -> int:
    """Day of the month at that place."""
    return clock.to_wall(at, zone).day


@register.filter
def month(at: dt.datetime, zone: str) -> str:
    """Mar, at that place."""
    return f"{clock.to_wall(at, zone):%b}"


@register.filter
def iso_utc(at: dt.datetime) -> str:
    """For the datetime attribute of <time>: 2026-03-04T00:30Z."""
    return f"{clock.to_wall(at, 'UTC'):%Y-%m-%dT%H:%MZ}"


@register.filter
def whole_date(on: dt.date | None) -> str:
    """A calendar date: 3 March 2026."""
    return NOT_KNOWN if on is None else date_format(on, pgettext("date", "j F Y"))


def _coordinate(value_deg: float | None, positive: str, negative: str) -> str:
    if value_deg is None:
        return NOT_KNOWN
    return f"{abs(value_deg):.4f}° {negative if value_deg < 0 else positive}"


@register.filter
def latitude(value_deg: float | None) -> str:
    """Four decimals, about ten metres: 36.1234° north."""
    return _coordinate(value_deg, "north", "south")


@register.filter
def longitude(value_deg: float | None) -> str:
    """Four decimals: 84.2001° west."""
    return _coordinate(value_deg, "east", "west")


@register.filter
def in_minutes(span: dt.timedelta | None) -> str:
    """A length of time: 45 minutes, 1 hour, 1 hour 30 minutes."""
    if span is None:
        return NOT_KNOWN
    hours, minutes = divmod(round(span.total_seconds() / 60), 60)
    parts = [(hours, "hour"), (minutes, "minute")]
    return " ".join(f"{n}{TIE}{word}{'' if n == 1 else 's'}" for n, word in parts if n) or f"0{TIE}minutes"
