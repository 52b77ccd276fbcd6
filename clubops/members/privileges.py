"""What a member may send, where and with how much power, by the club's own table of licence classes.

The table is the club's note of the law, not the law: the licence and the local regulations decide. Where the club
has written nothing down the answer is “unknown”, and nothing rests on it.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from clubops.members.licences import LicenceClass
from clubops.members.models import Member
from clubops.members.segments import Operation, Signal, Verdict, judge


def may_transmit(
    member: Member,
    frequency_mhz: Decimal,
    power_w: float | None,
    *,
    on: dt.date,
    half_bandwidth_mhz: Decimal,
    needs: int = Operation.ALONE,
) -> Verdict:
    """Whether the member may send on a carrier with a power (None: whatever power is allowed) on a date.

    needs: an `Operation`; CHAIR for net control and backup. half_bandwidth_mhz: half of what the signal occupies,
    all of which must lie within the class's privileges. The verdict's words follow the name and tell no date.
    """
    if has_run_out(member, on):
        return Verdict("refused", "has a licence that, by the roster, has run out by then", "expired")
    if member.licence_class is None:
        return Verdict("unknown", "has no licence class on the roster", "class")
    signal = Signal(frequency_mhz, half_bandwidth_mhz, power_w)
    return judge(_named(member.licence_class), member.licence_class.segments, signal, needs)


def class_may(
    licence_class: LicenceClass,
    frequency_mhz: Decimal,
    power_w: float | None,
    *,
    half_bandwidth_mhz: Decimal,
    needs: int = Operation.ALONE,
) -> Verdict:
    """The same for a class, whoever holds it."""
    signal = Signal(frequency_mhz, half_bandwidth_mhz, power_w)
    return judge(_named(licence_class), licence_class.segments, signal, needs)


def has_run_out(member: Member, on: dt.date) -> bool:
    """Whether the licence, by the roster, is over on a date; a date that nobody recorded is no reason to doubt."""
    return member.licence_expires_on is not None and member.licence_expires_on < on


def classes_that_may(
    frequency_mhz: Decimal, *, half_bandwidth_mhz: Decimal, needs: int = Operation.CHAIR
) -> list[LicenceClass]:
    """Classes whose table allows it, with some power at least; the one that is allowed least comes first."""
    rows = LicenceClass.objects.prefetch_related("privileges")
    return [
        each
        for each in rows
        if class_may(each, frequency_mhz, None, half_bandwidth_mhz=half_bandwidth_mhz, needs=needs).is_allowed
    ]


def class_named(text: str) -> LicenceClass | None:
    """The class of that name, however it is spaced or capitalised; None for no text.

    Raises LookupError with a sentence that names the classes there are.
    """
    wanted = " ".join(text.split()).casefold()
    if not wanted:
        return None
    rows = list(LicenceClass.objects.all())
    for each in rows:
        if each.name.casefold() == wanted:
            return each
    there = ", ".join(each.name for each in rows)
    known = f"the club's classes are {there}" if rows else "the club has no classes yet"
    raise LookupError(f"“{text.strip()}” is no licence class of this club; {known}. An officer adds one.")


def _named(licence_class: LicenceClass) -> str:
    return f"licence class {licence_class.name}"
