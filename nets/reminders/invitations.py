"""The calendar object that goes with a mail about a duty (RFC 5546 REQUEST and CANCEL).

Nobody gets one who does without invitations, but for the CANCEL of what they were sent before they chose so.
"""

from __future__ import annotations

import datetime as dt
import logging
from dataclasses import replace
from email.utils import parseaddr

from django.conf import settings

from clubops.members.models import Member
from clubops.notices import choices, kinds
from clubops.notices.kinds import CalendarPart
from nets import feeds
from nets.calendars import entries, invites
from nets.models import Duty
from nets.reminders import history
from nets.reminders.history import Told

log = logging.getLogger(__name__)

# Better than no mail. An address is at fault, and addresses stay out of the log.
WITHOUT = "A mail about a duty goes out without its calendar object: an address cannot be written in one."


def request(duty: Duty, told: Told, recipient: Member) -> CalendarPart | None:
    """Puts the duty into the reader's calendar, or changes what is there."""
    if choices.declines(recipient, kinds.named(history.INVITE)):
        return None
    entry = replace(feeds.duty_event(duty), sequence=told.sequence, title=told.title)
    try:
        made = invites.request(entry, organizer=_club(), attendee=_party(recipient))
    except ValueError:
        log.warning(WITHOUT)
        return None
    return CalendarPart(made.content, "REQUEST")


def cancel(told: Told, recipient: Member, *, now: dt.datetime) -> CalendarPart | None:
    """Takes it out again. Made from what was told, for the duty itself may be gone."""
    if not told.in_calendar:
        return None
    entry = entries.SingleEvent(
        kind="duty",
        seed=told.seed,
        title=told.title,
        starts_at=told.starts_at,
        duration=dt.timedelta(minutes=told.minutes),
        sequence=told.sequence,
        created=now,
        last_modified=now,
        status="cancelled",
        location=told.where,
        url=told.url,
    )
    try:
        made = invites.cancel(
            entry, organizer=_club(), attendee=_party(recipient), sent_sequence=told.sequence - 1
        )
    except ValueError:
        log.warning(WITHOUT)
        return None
    return CalendarPart(made.content, "CANCEL")


def _club() -> entries.Party:
    _name, address = parseaddr(settings.DEFAULT_FROM_EMAIL)
    return entries.Party(settings.CLUB_NAME, address)


def _party(member: Member) -> entries.Party:
    return entries.Party(member.name, member.email)
