"""What letters and calendars call things of a net, in the language spoken just now."""

from __future__ import annotations

import datetime as dt

from django.utils.dateformat import format as date_format
from django.utils.formats import number_format
from django.utils.text import capfirst
from django.utils.translation import gettext, gettext_noop, pgettext

from nets.models import Duty
from relays.propagation.verdicts import Verdict

ROLES = {
    Duty.Role.NET_CONTROL.value: gettext_noop("net control"),
    Duty.Role.BACKUP.value: gettext_noop("backup control"),
}
VERDICTS = {
    "solid": gettext_noop("Solid: expect it to work"),
    "usable": gettext_noop("Usable: more likely to work than not, but a bad spot can spoil it"),
    "marginal": gettext_noop("Marginal: may work after moving a few steps or raising the antenna"),
    "not_usable": gettext_noop("Not usable: do not count on being heard"),
}


def role(name: str) -> str:
    """The chair: net control."""
    return gettext(ROLES[name])


def duty_title(net_name: str, role_name: str) -> str:
    """As a calendar shows it: Ridge Net: net control."""
    return f"{net_name}: {role(role_name)}"


def ledger_title(net_name: str, role_name: str, on: dt.date) -> str:
    """As a list of notices shows it: Net control, Ridge Net, Tue 3 Mar 2026."""
    return f"{capfirst(role(role_name))}, {net_name}, {short_date(on)}"


def short_date(on: dt.date) -> str:
    """Tue 3 Mar 2026."""
    return date_format(on, pgettext("short date with its year", "D j M Y"))


def verdict(found: Verdict) -> str:
    """The verdict on a path in a sentence with its figures; it names no place."""
    words = gettext("%(verdict)s; margin %(margin)s dB, %(chance)s for a usable signal") % {
        "verdict": gettext(VERDICTS[found.verdict_class.key]),
        "margin": _signed(found.margin_db),
        "chance": _chance(found.probability),
    }
    if found.usable:
        return f"{words}."
    asked = gettext("(asked for: %(margin)s dB and %(percent)s %%)") % {
        "margin": _signed(found.minimum_margin_db),
        "percent": f"{100 * found.minimum_probability:.0f}",
    }
    return f"{words} {asked}."


def _signed(value_db: float) -> str:
    figure = str(number_format(f"{abs(value_db):.1f}"))
    return f"{f'{value_db:+.1f}'[0]}{figure}"


def _chance(probability: float) -> str:
    if probability < 0.01:
        return gettext("less than 1 % chance")
    if probability > 0.99:
        return gettext("over 99 % chance")
    return gettext("%(percent)s %% chance") % {"percent": f"{100 * probability:.0f}"}
