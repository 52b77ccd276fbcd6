"""From letters to a mail, and from the mail server's answers to what they mean.

Headers: Auto-Submitted (RFC 3834 section 5), Content-Language (RFC 3282), List-Unsubscribe (RFC 2369 section 3.2) and
List-Unsubscribe-Post (RFC 8058 section 3.1, which asks for an https address: without one the header is left
out).
"""

from __future__ import annotations

import contextlib
import datetime as dt
import smtplib
from collections.abc import Callable, Sequence
from email.mime.text import MIMEText

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.template.loader import render_to_string
from django.utils.translation import gettext

from clubops.members.models import Member
from clubops.notices import languages
from clubops.notices.kinds import CalendarPart, Letter

RULE = "-" * 60
# Some servers close a connection after so many mails, and some after so many seconds; staying below costs
# little.
MAILS_A_CONNECTION = 50
SERVICE_CLOSING = 421


# Writing ---------------------------------------------------------------------------------------------


def compose(
    recipient: Member, letters: Sequence[Letter], *, message_id: str, unsubscribe_url: str
) -> EmailMultiAlternatives:
    """One mail with one letter or several, in the language of its reader.

    `unsubscribe_url` is empty for mail that belongs to an office.
    """
    with languages.speaking(recipient):
        return _compose(recipient, letters, message_id, unsubscribe_url)


def _compose(
    recipient: Member, letters: Sequence[Letter], message_id: str, unsubscribe_url: str
) -> EmailMultiAlternatives:
    first, *others = letters
    subject = first.subject
    if others:
        more = gettext("(and %(count)s more)") % {"count": len(others)}
        subject = f"{subject} {more}"
    message = EmailMultiAlternatives(
        subject=" ".join(subject.split()),
        body=_text(recipient, letters, unsubscribe_url),
        to=[recipient.email],
        headers=_headers(message_id, unsubscribe_url),
    )
    message.attach_alternative(_html(recipient, letters, unsubscribe_url), "text/html")
    parts = [letter.calendar for letter in letters if letter.calendar is not None]
    if len(letters) == 1 and parts:
        # As RFC 6047 section 2.4 has it: one calendar object, its method named in the type as in the object.
        message.attach_alternative(parts[0].content.decode(), f"text/calendar; method={parts[0].method}")
    else:
        for number, part in enumerate(parts, start=1):
            message.attach(_calendar_file(part, f"duty-{number}.ics"))
    return message


def _headers(message_id: str, unsubscribe_url: str) -> dict[str, str]:
    headers = {
        "Message-ID": message_id,
        "Auto-Submitted": "auto-generated",
        "Content-Language": languages.tag(),
    }
    if unsubscribe_url:
        headers["List-Unsubscribe"] = f"<{unsubscribe_url}>"
        if unsubscribe_url.startswith("https://"):
            headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return headers


def _calendar_file(part: CalendarPart, filename: str) -> MIMEText:
    """A file to open by hand: several objects in one mail are not an invitation to any reader."""
    attached = MIMEText(part.content.decode(), "calendar", "utf-8")
    attached.set_param("method", part.method)
    attached.add_header("Content-Disposition", "attachment", filename=filename)
    return attached


def _text(recipient: Member, letters: Sequence[Letter], unsubscribe_url: str) -> str:
    pieces = [_hello(recipient)]
    for number, letter in enumerate(letters):
        if number:
            pieces.append(RULE)
        if len(letters) > 1:
            pieces.append(letter.subject)
        pieces.extend(letter.lines)
        if letter.facts:
            pieces.append("\n".join(f"{label}: {value}" for label, value in letter.facts))
        pieces.extend(f"{link.label}:\n{link.url}" for link in letter.links)
    pieces.append(f"{settings.CLUB_NAME}\n{settings.CLUB_CONTACT}")
    if unsubscribe_url:
        pieces.append(f"{gettext('No more reminders')}:\n{unsubscribe_url}")
    return "\n\n".join(pieces) + "\n"


def _hello(recipient: Member) -> str:
    return gettext("Hello %(name)s,") % {"name": recipient.name}


def _html(recipient: Member, letters: Sequence[Letter], unsubscribe_url: str) -> str:
    return render_to_string(
        "notices/mail.html",
        {
            "language": languages.tag(),
            "hello": _hello(recipient),
            "stop": gettext("No more reminders"),
            "letters": letters,
            "unsubscribe_url": unsubscribe_url,
            "club_name": settings.CLUB_NAME,
            "club_contact": settings.CLUB_CONTACT,
        },
    )


# Sending ---------------------------------------------------------------------------------------------


class MailProblem(Exception):
    """A mail that did not go out. `sentence` is for the office; nothing in it is secret there."""

    def __init__(self, sentence: str) -> None:
        self.sentence = sentence
        super().__init__(sentence)


class ServerAway(MailProblem):
    """There is no talking to the mail server: it says nothing about any one notice."""


class Postponed(MailProblem):
    """Not now. Another try may succeed."""


class Refused(MailProblem):
    """Never. `address_at_fault` when the server will not have this recipient."""

    def __init__(self, sentence: str, *, address_at_fault: bool) -> None:
        super().__init__(sentence)
        self.address_at_fault = address_at_fault


class MailServer:
    """A connection through Django's mail backend, opened when needed, with the server's answers read."""

    def __init__(self, connect: Callable[[], BaseEmailBackend] = get_connection) -> None:
        self._connect = connect
        self._connection: BaseEmailBackend | None = None
        self._sent = 0

    def open(self) -> None:
        """Be connected. Raises `ServerAway`."""
        if self._connection is not None and self._sent < MAILS_A_CONNECTION:
            return
        self.close()
        connection = self._connect()
        try:
            connection.open()
        except (OSError, smtplib.SMTPException) as problem:
            raise ServerAway(f"The mail server cannot be reached: {_words(problem)}.") from problem
        self._connection, self._sent = connection, 0

    def send(self, message: EmailMultiAlternatives) -> None:
        """Hand one mail over; it returns when the server has taken it. Raises a `MailProblem`."""
        self.open()
        assert self._connection is not None
        self._sent += 1
        try:
            taken = self._connection.send_messages([message])
        except Exception as problem:
            if not _conversation_goes_on(problem):
                self.close()
            raise meaning_of(problem) from problem
        if not taken:
            raise Postponed("The mail backend did not take the mail and gave no reason.")

    def close(self) -> None:
        """Hang up. A server that cannot say goodbye is no trouble."""
        if self._connection is not None:
            with contextlib.suppress(OSError, smtplib.SMTPException):
                self._connection.close()
        self._connection = None


def _conversation_goes_on(problem: Exception) -> bool:
    """Whether the server gave a clear answer and listens on; 421 says goodbye (RFC 5321 section 3.8)."""
    if isinstance(problem, smtplib.SMTPRecipientsRefused):
        codes = [code for code, _answer in problem.recipients.values()]
    elif isinstance(problem, smtplib.SMTPSenderRefused | smtplib.SMTPDataError):
        codes = [problem.smtp_code]
    else:
        return False
    return all(400 <= code < 600 and code != SERVICE_CLOSING for code in codes)


def meaning_of(problem: Exception) -> MailProblem:
    """What an error of the mail backend means for the notice.

    RFC 5321 section 4.2.1: a reply of 4yz is a transient refusal, of 5yz a permanent one. A refused recipient
    is the address's fault, a refused sender is ours and may be mended, refused content is this mail's.
    """
    if isinstance(problem, smtplib.SMTPRecipientsRefused):
        code, answer = next(iter(problem.recipients.values()))
        return _by_code(code, answer, "The address was refused", address_at_fault=True)
    if isinstance(problem, smtplib.SMTPSenderRefused):
        return Postponed(
            f"The mail server refuses the club as a sender: {_answer(problem.smtp_code, problem.smtp_error)}."
        )
    if isinstance(problem, smtplib.SMTPDataError):
        return _by_code(problem.smtp_code, problem.smtp_error, "The mail was refused", address_at_fault=False)
    if isinstance(problem, smtplib.SMTPNotSupportedError):
        return Refused(
            f"The mail server cannot write to such an address: {_words(problem)}.", address_at_fault=True
        )
    if isinstance(problem, smtplib.SMTPServerDisconnected | TimeoutError):
        return Postponed(
            f"The mail server broke off before it said whether it had the mail: {_words(problem)}."
        )
    if isinstance(problem, OSError | smtplib.SMTPException):
        return Postponed(f"The mail could not be handed over: {_words(problem)}.")
    # A header or an address that cannot be written down at all.
    return Refused(f"The mail could not be written: {_words(problem)}.", address_at_fault=False)


def _by_code(code: int, answer: bytes | str, what: str, *, address_at_fault: bool) -> MailProblem:
    sentence = f"{what}: {_answer(code, answer)}."
    if 500 <= code < 600:
        return Refused(sentence, address_at_fault=address_at_fault)
    return Postponed(sentence)


def _answer(code: int, answer: bytes | str) -> str:
    words = answer.decode(errors="replace") if isinstance(answer, bytes) else answer
    return f"{code} {' '.join(words.split())}".rstrip(". ")[:200]


def _words(problem: BaseException) -> str:
    if isinstance(problem, smtplib.SMTPResponseException):
        return _answer(problem.smtp_code, problem.smtp_error)
    said = " ".join(str(problem).split()).rstrip(". ")
    return (said or type(problem).__name__)[:200]


def dated(sentence: str, now: dt.datetime) -> str:
    """The sentence with the day it was said on, for a record that stays."""
    return f"{sentence.rstrip('.')} ({now:%d %B %Y})."
