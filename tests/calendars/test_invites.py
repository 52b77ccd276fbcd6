"""Invitations and cancellations by mail (RFC 5546, RFC 6047)."""

from __future__ import annotations

from dataclasses import replace
from email.message import Message

import icalendar
import pytest

from nets.calendars.entries import Party, SingleEvent
from nets.calendars.invites import Invite, cancel, request

CLUB = Party("The Club", "nets@club.example")
MEMBER = Party('Ada "QZ3BBB" Example', "ada+radio@mail.example")


def calendar(invite: Invite) -> icalendar.Calendar:
    return icalendar.Calendar.from_ical(invite.content)


def test_the_mime_type_names_the_method_of_the_object(duty: SingleEvent) -> None:
    invite = request(duty, organizer=CLUB, attendee=MEMBER)
    part = Message()
    part["Content-Type"] = invite.content_type
    assert part.get_content_type() == "text/calendar"
    assert part.get_param("method") == calendar(invite)["METHOD"] == "REQUEST"
    assert part.get_content_charset() == "utf-8"


def test_a_request_has_every_property_that_rfc_5546_requires(duty: SingleEvent) -> None:
    # RFC 5546 section 3.2.2, the properties that must come once in a VEVENT.
    event = calendar(request(duty, organizer=CLUB, attendee=MEMBER)).walk("VEVENT")[0]
    assert {"ATTENDEE", "DTSTAMP", "DTSTART", "ORGANIZER", "SEQUENCE", "SUMMARY", "UID"} <= set(event)


def test_a_request_asks_for_no_reply_and_names_nobody_else(duty: SingleEvent) -> None:
    event = calendar(request(duty, organizer=CLUB, attendee=MEMBER)).walk("VEVENT")[0]
    assert event["ATTENDEE"] == "mailto:ada+radio@mail.example"
    assert event["ATTENDEE"].params["RSVP"] == "FALSE"
    assert event["ATTENDEE"].params["CN"] == "Ada 'QZ3BBB' Example"


def test_a_cancellation_has_the_uid_of_the_request_and_a_higher_sequence(duty: SingleEvent) -> None:
    asked = calendar(request(duty, organizer=CLUB, attendee=MEMBER)).walk("VEVENT")[0]
    dropped = replace(duty, sequence=duty.sequence + 1)
    invite = cancel(dropped, organizer=CLUB, attendee=MEMBER, sent_sequence=duty.sequence)
    event = calendar(invite).walk("VEVENT")[0]
    assert event["UID"] == asked["UID"]
    assert event["SEQUENCE"] > asked["SEQUENCE"]
    assert event["STATUS"] == "CANCELLED"
    assert calendar(invite)["METHOD"] == "CANCEL"


def test_it_refuses_a_cancellation_that_readers_would_ignore(duty: SingleEvent) -> None:
    with pytest.raises(ValueError, match="must be above 3"):
        cancel(duty, organizer=CLUB, attendee=MEMBER, sent_sequence=3)


def test_it_refuses_to_ask_for_a_cancelled_duty(duty: SingleEvent) -> None:
    with pytest.raises(ValueError, match="is cancelled"):
        request(replace(duty, status="cancelled"), organizer=CLUB, attendee=MEMBER)


@pytest.mark.parametrize(
    "address", ["", "nobody", "@club.example", "a@", "a b@club.example", "a@club\r\nX:1"]
)
def test_it_refuses_an_address_that_is_none(duty: SingleEvent, address: str) -> None:
    with pytest.raises(ValueError, match="mail address"):
        request(duty, organizer=CLUB, attendee=Party("Ada", address))


def test_an_unusual_address_is_encoded_in_its_uri(duty: SingleEvent) -> None:
    # RFC 6068 section 2.
    event = calendar(request(duty, organizer=CLUB, attendee=Party("", "a%b?c@mail.example"))).walk("VEVENT")[
        0
    ]
    assert event["ATTENDEE"] == "mailto:a%25b%3Fc@mail.example"
