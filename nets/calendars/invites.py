"""Invitations by mail: a REQUEST that puts a duty into the reader's own calendar, a CANCEL that takes it out.

RFC 5546 sections 3.2.2 and 3.2.5; RFC 6047 section 2.4 for the MIME part. Replies are not read, so none is
asked for: a duty is confirmed on the club's page. Only the invited person is named, since one member's
address is not for another's eyes.
"""

from dataclasses import dataclass, replace
from typing import Literal

from nets.calendars.entries import Party, SingleEvent
from nets.calendars.events import address_of, single_event
from nets.calendars.feed import begun

Method = Literal["REQUEST", "CANCEL"]


@dataclass(frozen=True, slots=True)
class Invite:
    """The bytes of the MIME part and its content type, which name the same method."""

    content: bytes
    content_type: str


def content_type(method: Method) -> str:
    """Of the MIME part: the method here must be the one in the object."""
    return f"text/calendar; method={method}; charset=UTF-8"


def request(entry: SingleEvent, *, organizer: Party, attendee: Party) -> Invite:
    """Ask for `attendee` at `entry`, or tell of a change: the UID stays and the SEQUENCE has risen.

    Raises `ValueError` for a cancelled entry or an address that is none.
    """
    if entry.status == "cancelled":
        raise ValueError(f"“{entry.title}” is cancelled; tell that by a cancellation, not by a request.")
    return _invite("REQUEST", entry, organizer, attendee)


def cancel(entry: SingleEvent, *, organizer: Party, attendee: Party, sent_sequence: int) -> Invite:
    """Take `entry` out of the calendar of `attendee`. `sent_sequence` is the SEQUENCE they were sent last.

    Raises `ValueError` where the SEQUENCE has not risen since, because readers would ignore the cancellation.
    """
    if entry.identity.sequence <= sent_sequence:
        raise ValueError(
            f"The cancellation of “{entry.title}” has sequence {entry.identity.sequence}; "
            f"it must be above {sent_sequence}, which was sent before."
        )
    return _invite("CANCEL", replace(entry, status="cancelled"), organizer, attendee)


def _invite(method: Method, entry: SingleEvent, organizer: Party, attendee: Party) -> Invite:
    event = single_event(entry)
    event["ORGANIZER"] = address_of(organizer)
    invited = address_of(attendee)
    invited.params.update(CUTYPE="INDIVIDUAL", ROLE="REQ-PARTICIPANT", PARTSTAT="NEEDS-ACTION", RSVP="FALSE")
    event["ATTENDEE"] = invited
    calendar = begun(method)
    calendar.add_component(event)
    return Invite(calendar.to_ical(sorted=False), content_type(method))
