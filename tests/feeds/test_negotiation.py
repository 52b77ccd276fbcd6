"""Preconditions and Accept-Encoding as tables: RFC 9110 (June 2022), sections named beside the rows."""

from __future__ import annotations

import pytest
from django.utils.http import http_date

from nets.web.negotiation import outcome, wants_gzip

TAG = '"abc"'
CHANGED_S = 1_772_539_200  # Tue, 03 Mar 2026 12:00:00 GMT
SAME, BEFORE, AFTER = (http_date(CHANGED_S + shift_s) for shift_s in (0, -1, 1))

CONDITIONS = [
    ({}, 200),
    # 13.1.2, If-None-Match: weak comparison, lists, any
    ({"If-None-Match": '"abc"'}, 304),
    ({"If-None-Match": 'W/"abc"'}, 304),
    ({"If-None-Match": "*"}, 304),
    ({"If-None-Match": '"x", "abc"'}, 304),
    ({"If-None-Match": '"x" ,W/"abc","y"'}, 304),
    ({"If-None-Match": '"x"'}, 200),
    ({"If-None-Match": '"ABC"'}, 200),
    ({"If-None-Match": '"abc.gz"'}, 200),
    ({"If-None-Match": "abc"}, 200),
    ({"If-None-Match": '"abc'}, 200),
    ({"If-None-Match": 'w/"abc"'}, 200),
    ({"If-None-Match": ""}, 200),
    ({"If-None-Match": ",,;\x80\xff"}, 200),
    # 13.1.3, If-Modified-Since: the three forms of a date (5.6.7), and what is none
    ({"If-Modified-Since": SAME}, 304),
    ({"If-Modified-Since": AFTER}, 304),
    ({"If-Modified-Since": BEFORE}, 200),
    ({"If-Modified-Since": "Tuesday, 03-Mar-26 12:00:00 GMT"}, 304),
    ({"If-Modified-Since": "Tue Mar  3 12:00:00 2026"}, 304),
    ({"If-Modified-Since": "yesterday"}, 200),
    ({"If-Modified-Since": "Tue, 31 Feb 2026 12:00:00 GMT"}, 200),
    ({"If-Modified-Since": "2026-03-03T12:00:00Z"}, 200),
    ({"If-Modified-Since": ""}, 200),
    # 13.1.3: ignored beside an If-None-Match, whatever that says
    ({"If-None-Match": '"x"', "If-Modified-Since": SAME}, 200),
    ({"If-None-Match": "garbage", "If-Modified-Since": SAME}, 200),
    ({"If-None-Match": '"abc"', "If-Modified-Since": BEFORE}, 304),
    # 13.1.1, If-Match: strong comparison
    ({"If-Match": '"abc"'}, 200),
    ({"If-Match": '"x", "abc"'}, 200),
    ({"If-Match": "*"}, 200),
    ({"If-Match": 'W/"abc"'}, 412),
    ({"If-Match": '"x"'}, 412),
    # 13.1.4, If-Unmodified-Since: ignored beside an If-Match
    ({"If-Unmodified-Since": SAME}, 200),
    ({"If-Unmodified-Since": BEFORE}, 412),
    ({"If-Unmodified-Since": "yesterday"}, 200),
    ({"If-Match": '"abc"', "If-Unmodified-Since": BEFORE}, 200),
    # 13.2.2: in this order
    ({"If-Match": '"x"', "If-None-Match": '"abc"'}, 412),
    ({"If-Match": '"abc"', "If-None-Match": '"abc"'}, 304),
]


@pytest.mark.parametrize(("headers", "expected"), CONDITIONS)
def test_preconditions(headers: dict[str, str], expected: int) -> None:
    environ = {f"HTTP_{name.upper().replace('-', '_')}": value for name, value in headers.items()}
    assert outcome(environ, TAG, CHANGED_S) == expected


ENCODINGS = [
    ("", False),
    ("gzip", True),
    ("GZip", True),
    ("x-gzip", True),  # 8.4.1.3
    ("gzip, deflate, br, zstd", True),
    ("deflate, gzip;q=1.0, *;q=0.5", True),  # 12.5.3, an example
    ("gzip;q=0.001", True),
    ("gzip ; q=0.5", True),
    ("*", True),
    ("br, *;q=0.1", True),
    ("gzip;q=0", False),
    ("gzip;q=0.000, *", False),
    ("*;q=0", False),
    ("identity", False),
    ("br", False),
    ("identity;q=0.5, gzip;q=1.0, *;q=0", True),  # 12.5.3, an example
    ("gzip;q=0.5, identity", False),
    ("gzip;q=2", False),  # 12.4.2: no weight
    ("gzip;q=-1", False),
    ("gzip;q=nan", False),
    ("gzip;q=1e0", False),
    ("gzip;level=9", False),
    (";;;,,,\x00\xff", False),
    ("gzip" * 5000, False),
]


@pytest.mark.parametrize(("accepted", "expected"), ENCODINGS)
def test_compression(accepted: str, expected: bool) -> None:
    assert wants_gzip(accepted) is expected
