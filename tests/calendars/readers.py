"""Calendars as others read them: recurring-ical-events in Python and npm ical.js under node."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import icalendar
import pytest
import recurring_ical_events

from tests.calendars.nets_at_random import Seen

HERE = Path(__file__).parent
# Before any calendar of these tests begins.
EPOCH = datetime(1990, 1, 1, tzinfo=UTC)


def node_folder() -> Path:
    return Path(os.environ.get("CLUBOPS_NODE_MODULES") or HERE)


def missing_for_node() -> str:
    """Why a test cannot ask ical.js, or the empty string."""
    if shutil.which("node") is None:
        return "node is not installed, so ical.js cannot be asked."
    if not (node_folder() / "node_modules" / "ical.js").is_dir():
        return "npm's ical.js is not installed: run `npm install --prefix tests/calendars --no-save ical.js@2.2.1`."
    return ""


def ask_ical_js(questions: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Put `{"ics", "until", "walls"}` to tests/calendars/expand.mjs; skips the test where node is missing."""
    if why := missing_for_node():
        pytest.skip(why)
    answered = subprocess.run(
        ["node", str(HERE / "expand.mjs"), str(node_folder())],
        input=json.dumps(list(questions)),
        capture_output=True,
        text=True,
        timeout=500,
        check=False,
    )
    assert answered.returncode == 0, answered.stderr
    return json.loads(answered.stdout)["answers"]


def question(content: bytes, until: datetime) -> dict[str, Any]:
    return {"ics": content.decode(), "until": until.timestamp()}


def seen_by_ical_js(answer: dict[str, Any]) -> Counter[Seen]:
    return Counter(
        (int(start), int(end), status, summary) for _, start, end, status, _, summary in answer["events"]
    )


def seen_by_python(content: bytes, until: datetime) -> Counter[Seen]:
    """By recurring-ical-events, which looks a known TZID up in the tz database."""
    calendar = icalendar.Calendar.from_ical(content)
    found = recurring_ical_events.of(calendar).between(EPOCH, until)
    return Counter(seen for seen in map(_seen, found) if seen[0] < until.timestamp())


def seen_by_zone_in_file(content: bytes, until: datetime) -> Counter[Seen]:
    """As `seen_by_python`, with every TZID renamed, so that the VTIMEZONE in the file is all there is to go
    by.

    The name is one of its own for each file, because icalendar keeps the first zone it reads of a name.
    """
    own = hashlib.sha256(content).hexdigest()[:12].encode()
    renamed = content.replace(b"TZID=", b"TZID=" + own + b"/").replace(b"TZID:", b"TZID:" + own + b"/")
    return seen_by_python(renamed, until)


def _seen(event: icalendar.Event) -> Seen:
    start, end = (event[name].dt.astimezone(UTC) for name in ("DTSTART", "DTEND"))
    return int(start.timestamp()), int(end.timestamp()), str(event["STATUS"]), str(event["SUMMARY"])
