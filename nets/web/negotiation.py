"""What a reader has and what it can read: preconditions and Accept-Encoding (RFC 9110 sections 12.5.3 and 13).

A header that cannot be read is as good as none; nothing here raises.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from django.utils.http import parse_etags, parse_http_date_safe

OK, NOT_MODIFIED, PRECONDITION_FAILED = 200, 304, 412
CONDITIONS = ("HTTP_IF_NONE_MATCH", "HTTP_IF_MODIFIED_SINCE", "HTTP_IF_MATCH", "HTTP_IF_UNMODIFIED_SINCE")
# Section 12.4.2: a weight is 0 to 1 with at most three digits.
_CODING = re.compile(r"([a-z0-9!#$%&'*+.^_`|~-]+)(?:[ \t]*;[ \t]*q=(0(?:\.\d{0,3})?|1(?:\.0{0,3})?))?")


def is_conditional(headers: Mapping[str, str]) -> bool:
    """Whether a request (its WSGI environ) says anything that `outcome` looks at."""
    return any(name in headers for name in CONDITIONS)


def outcome(headers: Mapping[str, str], etag: str, modified_s: int) -> int:
    """200, 304 or 412 for a GET or HEAD of a representation with this strong tag, by section 13.2.2.

    `headers` is the WSGI environ; `modified_s` are seconds since 1970. If-Modified-Since does not count beside
    an If-None-Match, nor If-Unmodified-Since beside an If-Match, whatever these say.
    """
    if (wanted := headers.get("HTTP_IF_MATCH")) is not None:
        if not _names(wanted, etag, weakly=False):
            return PRECONDITION_FAILED
    elif modified_s > _seconds(headers.get("HTTP_IF_UNMODIFIED_SINCE"), otherwise=modified_s):
        return PRECONDITION_FAILED
    if (known := headers.get("HTTP_IF_NONE_MATCH")) is not None:
        return NOT_MODIFIED if _names(known, etag, weakly=True) else OK
    is_known = modified_s <= _seconds(headers.get("HTTP_IF_MODIFIED_SINCE"), otherwise=modified_s - 1)
    return NOT_MODIFIED if is_known else OK


def _names(listed: str, etag: str, *, weakly: bool) -> bool:
    """Whether a list of tags names this one: weak comparison for If-None-Match, strong for If-Match."""
    tags = parse_etags(listed)
    return "*" in tags or etag in tags or (weakly and f"W/{etag}" in tags)


def _seconds(date: str | None, *, otherwise: int) -> int:
    seconds = parse_http_date_safe(date) if date else None
    return otherwise if seconds is None else seconds


def wants_gzip(accept_encoding: str) -> bool:
    """Whether gzip is welcome, and not less so than plain bytes when the reader weighs the two."""
    weights: dict[str, float] = {}
    for item in accept_encoding.lower().split(","):
        if match := _CODING.fullmatch(item.strip()):
            weights.setdefault(match[1], float(match[2] or 1))
    # Section 8.4.1.3: x-gzip is gzip.
    gzip = weights.get("gzip", weights.get("x-gzip", weights.get("*", 0.0)))
    return gzip > 0 and gzip >= weights.get("identity", 0.0)
