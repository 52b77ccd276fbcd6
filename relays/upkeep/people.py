"""Who can be asked about a task, a paper or a site, and who may write down that something was done."""

from __future__ import annotations

from collections.abc import Collection

from clubops.members.models import Member
from clubops.members.permissions import OFFICER, RELAY_STEWARD, Reader
from relays.models import Site, UpkeepTask


def asked(task: UpkeepTask) -> Member | None:
    """Whom the task waits for: the responsible person, else the stand-in, as long as they are in the club."""
    for member in (task.responsible, task.stand_in):
        if member is not None and member.is_active:
            return member
    return None


def steward_of(site: Site | None, *, other_than: Collection[Member] = ()) -> Member | None:
    """Who looks after a site: its steward, else any relay steward, else an officer; none of `other_than`."""
    own = site.steward if site is not None else None
    if own is not None and own.is_active and own not in other_than:
        return own
    return in_office(RELAY_STEWARD, other_than=other_than) or in_office(OFFICER, other_than=other_than)


def in_office(role: str, *, other_than: Collection[Member] = ()) -> Member | None:
    """The first active member with that role whose login works; none of `other_than`."""
    rows = Member.objects.filter(is_active=True, user__is_active=True, user__groups__name=role)
    return rows.exclude(pk__in=[member.pk for member in other_than]).order_by("pk").first()


def chain(task: UpkeepTask) -> list[Member]:
    """Who hears of an overdue task, one after the other: who is asked, a steward, an officer; each once."""
    first = asked(task)
    found = [first] if first else []
    for next_one in (steward_of(task.the_site), in_office(OFFICER)):
        if next_one in found:
            next_one = in_office(OFFICER, other_than=found)
        if next_one is not None and next_one not in found:
            found.append(next_one)
    return found


def may_record(reader: Reader, task: UpkeepTask) -> bool:
    """Stewards and officers, the responsible person and the stand-in write down what was done."""
    if reader.tends_relays:
        return True
    return reader.member is not None and reader.member.pk in (task.responsible_id, task.stand_in_id)
