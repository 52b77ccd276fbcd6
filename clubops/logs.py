"""Log lines without the secrets that some addresses hold."""

from __future__ import annotations

import logging
import re

# What follows one of these in an address lets whoever knows it read or answer for somebody.
SECRET_BELOW = ("calendars/mine", "duties/answer", "notices/stop")
_SECRET = re.compile(rf"(/(?:{'|'.join(SECRET_BELOW)})/)[^/\s?&#\"'<>()\]]+")


class DiscreetFormatter(logging.Formatter):
    """Writes a record and its traceback as usual, with the secret part of every private address left out.

    It works on the finished text, so that it does not matter whether a secret came in a message, an argument or an
    exception.
    """

    def format(self, record: logging.LogRecord) -> str:
        return without_secrets(super().format(record))


def without_secrets(text: str) -> str:
    """`text` with `/calendars/mine/<secret>` and the like as `/calendars/mine/...`."""
    return _SECRET.sub(r"\1...", text)
