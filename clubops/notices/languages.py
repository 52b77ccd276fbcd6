"""The language a person is written to in. Pages stay in the language of the site; mail follows its reader.

What is said is looked up by Django's gettext while `speaking`; what is stored (titles, reasons, facts) is English,
so that the ledger reads the same for everybody who looks after it.
"""

from __future__ import annotations

from contextlib import AbstractContextManager

from django.conf import settings
from django.utils import translation

from clubops.members.models import Member
from clubops.notices import choices


def known() -> dict[str, str]:
    """Code and name, in its own language, of every language there is."""
    return dict(settings.LANGUAGES)


def of(member: Member) -> str:
    """The language this person chose, else the club's; the site's where neither is known any more."""
    for code in (choices.of(member).language, settings.CLUB_LANGUAGE):
        if code in known():
            return str(code)
    return str(settings.LANGUAGE_CODE)


def speaking(member: Member) -> AbstractContextManager[None]:
    """Within it, gettext and dates are in the language of this person."""
    return translation.override(of(member))


def tag() -> str:
    """The language spoken just now as a language tag (RFC 5646): en-GB, de."""
    language, _, region = (translation.get_language() or settings.LANGUAGE_CODE).partition("-")
    return f"{language}-{region.upper()}" if region else language
