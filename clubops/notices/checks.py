"""Refuse figures that would let a mail go out twice."""

from __future__ import annotations

from django.conf import settings
from django.core import checks

from clubops.notices import languages, policy


@checks.register
def check_policy(**_: object) -> list[checks.CheckMessage]:
    """The policy's own complaints, as errors of `manage.py check`."""
    return [checks.Error(sentence, id="notices.E001") for sentence in policy.problems(policy.current())]


@checks.register
def check_language(**_: object) -> list[checks.CheckMessage]:
    """The club's language is one of those there are."""
    if settings.CLUB_LANGUAGE in languages.known():
        return []
    known = " or ".join(languages.known())
    said = f"CLUBOPS_LANGUAGE is “{settings.CLUB_LANGUAGE}”; write {known}."
    return [checks.Error(said, id="notices.E002")]
