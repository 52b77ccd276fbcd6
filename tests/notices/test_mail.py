"""The mail itself: its headers and parts, checked against the RFCs that ask for them."""

from __future__ import annotations

import email
from email.message import EmailMessage
from email.policy import default

import pytest

from clubops.notices import choices, mail
from clubops.notices.kinds import CalendarPart, Letter, Link

INVITE = CalendarPart(
    b"BEGIN:VCALENDAR\r\nMETHOD:REQUEST\r\nX-NAME:S\xc3\xa3o\r\nEND:VCALENDAR\r\n", "REQUEST"
)


def composed(recipient, *letters, stop: str = "") -> EmailMessage:
    message = mail.compose(recipient, letters, message_id="<a@club.example>", unsubscribe_url=stop)
    return email.message_from_bytes(message.message().as_bytes(), policy=default)


def letter(subject="The net", **given) -> Letter:
    return Letter(subject, given.pop("lines", ("You are net control.",)), **given)


def types(message: EmailMessage) -> list[str]:
    return [part.get_content_type() for part in message.walk() if not part.is_multipart()]


def test_it_says_that_a_machine_wrote_it(member):
    """RFC 3834 section 5: auto-generated, so that nobody's out-of-office answers it."""
    assert composed(member(), letter())["Auto-Submitted"] == "auto-generated"


def test_it_carries_the_notices_own_message_id(member):
    assert composed(member(), letter())["Message-ID"] == "<a@club.example>"


def test_one_click_unsubscribing_over_https(member, settings):
    """RFC 8058 section 3.1: an https address, and this very value."""
    settings.SITE_ADDRESS = "https://net.club.example"
    person = member()
    message = composed(person, letter(), stop=choices.unsubscribe_url(person))
    # Too long for one line, it may stand on the next (RFC 5322 section 2.2.3).
    assert message["List-Unsubscribe"].strip() == f"<{choices.unsubscribe_url(person)}>"
    assert message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"


def test_no_one_click_without_https(member):
    message = composed(member(), letter(), stop="http://127.0.0.1:8000/notices/stop/x/")
    assert message["List-Unsubscribe"] == "<http://127.0.0.1:8000/notices/stop/x/>"
    assert message["List-Unsubscribe-Post"] is None


def test_mail_of_an_office_has_no_way_out(member):
    message = composed(member(), letter())
    assert message["List-Unsubscribe"] is None
    assert "No more reminders" not in message.get_body(("plain",)).get_content()


def test_plain_text_and_html_are_alternatives(member):
    message = composed(member(), letter(facts=(("When", "Tuesday"),), links=(Link("Answer", "https://x/"),)))
    assert message.get_content_type() == "multipart/alternative"
    assert types(message) == ["text/plain", "text/html"]
    for subtype in ("plain", "html"):
        said = message.get_body((subtype,)).get_content()
        assert all(word in said for word in ("You are net control.", "When", "Tuesday", "https://x/"))


def test_an_invitation_names_its_method_in_the_type_as_in_the_object(member):
    """RFC 6047 section 2.4: the method parameter, and the charset of the text."""
    message = composed(member(), letter(calendar=INVITE))
    (part,) = [each for each in message.walk() if each.get_content_type() == "text/calendar"]
    assert (part.get_param("method"), part.get_content_charset()) == ("REQUEST", "utf-8")
    assert part.get_payload(decode=True).replace(b"\r\n", b"\n") == INVITE.content.replace(b"\r\n", b"\n")
    assert types(message) == ["text/plain", "text/html", "text/calendar"]


def test_several_invitations_become_files(member):
    """A mail is an invitation to one thing at most; more of them are for the hand."""
    message = composed(member(), letter("One", calendar=INVITE), letter("Two", calendar=INVITE))
    files = [part.get_filename() for part in message.iter_attachments()]
    assert files == ["duty-1.ics", "duty-2.ics"]


def test_several_letters_are_told_apart(member):
    message = composed(member(), letter("One"), letter("Two"), letter("Three"))
    text = message.get_body(("plain",)).get_content()
    assert message["Subject"] == "One (and 2 more)"
    assert text.count(mail.RULE) == 2
    assert text.index("One") < text.index("Two") < text.index("Three")


@pytest.mark.parametrize("subject", ["One\nBcc: somebody@x.example", "One\r\n\r\nhello"])
def test_a_subject_cannot_add_headers(member, subject):
    message = composed(member(), letter(subject))
    assert message["Bcc"] is None
    assert message["Subject"] == " ".join(subject.split())


def test_what_people_typed_is_not_html(member):
    message = composed(member(name="<b>Bold</b>"), letter(lines=("<script>x</script>",)))
    html = message.get_body(("html",)).get_content()
    assert "<script>" not in html
    assert "&lt;b&gt;Bold" in html
