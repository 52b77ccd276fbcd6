"""Reasons why something was not sent, said again in the language of who reads of them.

The ledger keeps them in English. A sentence that ends in what a mail server said keeps the server's words.
"""

from __future__ import annotations

import re

from django.utils.translation import gettext, gettext_noop

SENTENCES = (
    gettext_noop("It was still waiting when it had become too late to send it."),
    gettext_noop(
        "A worker stopped while sending it, and then it was too late to try again; it may have arrived."
    ),
    gettext_noop("There is no mail address on the roster."),
    gettext_noop("Mail to this address was refused before: %(reason)s"),
    gettext_noop("It could not be written: %(said)s"),
    gettext_noop("Given up after %(count)s tries. %(reason)s"),
    gettext_noop("The mail server cannot be reached: %(said)s."),
    gettext_noop("The mail backend did not take the mail and gave no reason."),
    gettext_noop("The address was refused: %(said)s."),
    gettext_noop("The mail server refuses the club as a sender: %(said)s."),
    gettext_noop("The mail was refused: %(said)s."),
    gettext_noop("The mail server cannot write to such an address: %(said)s."),
    gettext_noop("The mail server broke off before it said whether it had the mail: %(said)s."),
    gettext_noop("The mail could not be handed over: %(said)s."),
    gettext_noop("The mail could not be written: %(said)s."),
)
_PATTERNS = [
    (sentence, re.compile(re.sub(r"%\\?\(?\(?(\w+)\\?\)s", r"(?P<\1>.*)", re.escape(sentence)), re.DOTALL))
    for sentence in SENTENCES
]


def said_again(reason: str) -> str:
    """A stored reason in the language spoken just now; as it stands where it is none of the known sentences."""
    for sentence, pattern in _PATTERNS:
        if found := pattern.fullmatch(reason):
            parts = found.groupdict()
            if "reason" in parts:
                parts["reason"] = said_again(parts["reason"])
            return gettext(sentence) % parts
    return reason
