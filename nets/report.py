"""The report of a session: who came, by what path, with what traffic, and what was changed afterwards."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass
from typing import Any

from nets.models import CheckIn, Correction, RollCall, Session, SessionLog

# Highest first: the order in which traffic is handled.
PRECEDENCES = (
    CheckIn.Traffic.EMERGENCY,
    CheckIn.Traffic.PRIORITY,
    CheckIn.Traffic.WELFARE,
    CheckIn.Traffic.ROUTINE,
)
FIELD_WORDS = {
    "call_sign": "call sign",
    "name": "name",
    "place": "place",
    "report": "signal report",
    "via": "path",
    "traffic": "traffic",
    "notes": "notes",
    "heard_at": "time",
    "is_struck": "struck out",
}


@dataclass(frozen=True)
class Row:
    """A check-in as the log shows it. `number` counts stations; one heard again keeps its first number."""

    check_in: CheckIn
    number: int | None
    is_new: bool
    is_again: bool


@dataclass(frozen=True)
class PathCount:
    """How many stations came by one path, and which."""

    words: str
    call_signs: tuple[str, ...]

    @property
    def count(self) -> int:
        return len(self.call_signs)


@dataclass(frozen=True)
class Change:
    """One line of the trail: who changed what of which entry, and when."""

    at: dt.datetime
    by: str
    call_sign: str
    is_after_closing: bool
    differences: tuple[tuple[str, str, str], ...]

    @property
    def is_added(self) -> bool:
        """An entry that came after closing, rather than a change of one."""
        return not self.differences


@dataclass(frozen=True)
class Report:
    """Everything the report page says."""

    session: Session
    log: SessionLog | None
    rows: tuple[Row, ...]
    paths: tuple[PathCount, ...]
    traffic: tuple[tuple[str, int], ...]
    unanswered: tuple[RollCall, ...]
    changes: tuple[Change, ...]

    @property
    def stations(self) -> int:
        return len({row.check_in.call_sign for row in self.rows if row.number})

    @property
    def new_stations(self) -> tuple[str, ...]:
        return tuple(row.check_in.call_sign for row in self.rows if row.is_new and not row.is_again)

    @property
    def visitors(self) -> int:
        return sum(row.check_in.is_visitor and not row.is_again for row in self.rows if row.number)

    @property
    def pieces(self) -> int:
        """Pieces of traffic listed."""
        return sum(count for _, count in self.traffic)

    @property
    def duration(self) -> dt.timedelta | None:
        if self.log is None or self.log.opened_at is None or self.log.closed_at is None:
            return None
        return self.log.closed_at - self.log.opened_at

    @property
    def events(self) -> tuple[tuple[str, str, dt.datetime], ...]:
        """(what, by whom, when) of every opening and closing."""
        kept = self.log.events if self.log else []
        return tuple((each["what"], each["by"], dt.datetime.fromisoformat(each["at"])) for each in kept)

    @property
    def changes_after_closing(self) -> tuple[Change, ...]:
        return tuple(change for change in self.changes if change.is_after_closing)

    @property
    def moved(self) -> tuple[tuple[str, Any, Any], ...]:
        """Figures that are no longer what they were at closing: (words, then, now)."""
        now, then = _figures(self), self.log.summary if self.log else {}
        words = {
            "stations": "stations",
            "new_stations": "new stations",
            "visitors": "visitors",
            "traffic": "traffic",
        }
        return tuple(
            (label, then[name], now[name])
            for name, label in words.items()
            if name in then and then[name] != now[name]
        )


def rows_of(session: Session) -> list[Row]:
    """Every entry in the order heard, struck ones included; marks new stations and those heard before."""
    earlier = set(
        CheckIn.objects.filter(
            session__net=session.net, session__starts_at__lt=session.starts_at, is_struck=False
        ).values_list("call_sign", flat=True)
    )
    numbers: dict[str, int] = {}
    rows = []
    for each in session.check_ins.select_related("relay", "member"):
        if each.is_struck:
            rows.append(Row(each, None, is_new=False, is_again=False))
            continue
        again = each.call_sign in numbers
        number = numbers.setdefault(each.call_sign, len(numbers) + 1)
        rows.append(Row(each, number, is_new=each.is_whole and each.call_sign not in earlier, is_again=again))
    return rows


def report(session: Session) -> Report:
    """The report as the log stands now; a log that was never opened gives an empty one."""
    rows = rows_of(session)
    counted = [row for row in rows if row.number]
    traffic = Counter(row.check_in.traffic for row in counted)
    return Report(
        session=session,
        log=SessionLog.objects.filter(session=session).select_related("net_control").first(),
        rows=tuple(rows),
        paths=_paths(counted),
        traffic=tuple((str(each.label), traffic[each]) for each in PRECEDENCES if traffic[each]),
        unanswered=tuple(unanswered(session)),
        changes=tuple(_changes(session)),
    )


def _paths(rows: list[Row]) -> tuple[PathCount, ...]:
    """Most used first; a station heard by two paths stands under both."""
    by_path: dict[str, dict[str, None]] = {}
    for row in rows:
        by_path.setdefault(row.check_in.path_words, {})[row.check_in.call_sign] = None
    found = [PathCount(words, tuple(call_signs)) for words, call_signs in by_path.items()]
    return tuple(sorted(found, key=lambda each: (-each.count, each.words)))


def unanswered(session: Session) -> list[RollCall]:
    """Lines of the roll that were called and gave no answer."""
    heard = session.check_ins.filter(is_struck=False).values("call_sign")
    return list(session.roll.filter(state=RollCall.State.NO_ANSWER).exclude(call_sign__in=heard))


def _changes(session: Session) -> list[Change]:
    corrections = Correction.objects.filter(check_in__session=session).select_related("check_in")
    found = [
        Change(each.made_at, each.made_by, each.check_in.call_sign, each.is_after_closing, differences(each))
        for each in corrections
    ]
    found += [
        Change(each.received_at, each.logged_by, each.call_sign, True, ())
        for each in session.check_ins.filter(is_after_closing=True)
    ]
    return sorted(found, key=lambda change: change.at)


def differences(correction: Correction) -> tuple[tuple[str, str, str], ...]:
    """(field in words, before, after) of one correction."""
    return tuple(
        (FIELD_WORDS.get(name, name), _said(name, correction.before.get(name)), _said(name, after))
        for name, after in correction.after.items()
    )


def _said(name: str, value: Any) -> str:
    if name == "is_struck":
        return "yes" if value else "no"
    if name == "heard_at" and value:
        return f"{dt.datetime.fromisoformat(value).astimezone(dt.UTC):%H:%M:%S} UTC"
    return str(value) if value not in ("", None) else "nothing"


def figures(session: Session) -> dict[str, Any]:
    """What is kept of the report at closing, as plain JSON values."""
    return _figures(report(session))


def _figures(made: Report) -> dict[str, Any]:
    return {
        "stations": made.stations,
        "new_stations": len(made.new_stations),
        "visitors": made.visitors,
        "traffic": made.pieces,
        "paths": {path.words: path.count for path in made.paths},
    }
