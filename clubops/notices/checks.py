"""Refuse figures that would let a mail go out twice."""

from __future__ import annotations

from django.core import checks

from clubops.notices import policy


@checks.register
def check_policy(**_: object) -> list[checks.CheckMessage]:
    """The policy's own complaints, as errors of `manage.py check`."""
    return [checks.Error(sentence, id="notices.E001") for sentence in policy.problems(policy.current())]
