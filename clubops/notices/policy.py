"""How patient the outbox is, and when it keeps quiet: decisions on plain values."""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from clubops import clock

NO_QUIET_HOURS = "none"
FIRST_PAUSE = dt.timedelta(minutes=1)
LONGEST_PAUSE = dt.timedelta(hours=2)
# A pause is stretched or shortened by up to this share, so that what failed together does not return
# together.
JITTER = 0.25


@dataclass(frozen=True, slots=True)
class QuietHours:
    """Wall times between which nobody is written to without need; they may run over midnight."""

    start: dt.time
    end: dt.time

    @classmethod
    def parse(cls, text: str) -> QuietHours | None:
        """From `22:00-07:00`; None for `none`. Raises ImproperlyConfigured with a sentence."""
        if text.strip().lower() == NO_QUIET_HOURS:
            return None
        start, dash, end = text.partition("-")
        try:
            if not dash:
                raise ValueError
            hours = cls(dt.time.fromisoformat(start.strip()), dt.time.fromisoformat(end.strip()))
            if hours.start == hours.end or hours.start.tzinfo or hours.end.tzinfo:
                raise ValueError
        except ValueError:
            raise ImproperlyConfigured(
                f"The quiet hours are {text!r}; write two different wall times such as 22:00-07:00, or none."
            ) from None
        return hours

    def end_of_quiet(self, at: dt.datetime, zone: str) -> dt.datetime | None:
        """When the quiet hours end that `at` lies in by the clocks of `zone`; None outside them."""
        today = clock.to_wall(at, zone).date()
        for day in (today - dt.timedelta(days=1), today):
            last_day = day if self.start < self.end else day + dt.timedelta(days=1)
            begin = clock.to_utc(dt.datetime.combine(day, self.start), zone).at
            end = clock.to_utc(dt.datetime.combine(last_day, self.end), zone).at
            if begin <= at < end:
                return end
        return None


@dataclass(frozen=True, slots=True)
class Policy:
    """The figures the outbox works by.

    `run` is how long one run goes on taking work, `run_limit` when a hanging run is killed, `lease` when a
    claim lapses; `urgent` is how close an event may be before quiet hours no longer count.
    """

    lease: dt.timedelta = dt.timedelta(minutes=10)
    run_limit: dt.timedelta = dt.timedelta(minutes=5)
    run: dt.timedelta = dt.timedelta(seconds=25)
    most_attempts: int = 10
    urgent: dt.timedelta = dt.timedelta(hours=4)
    quiet: QuietHours | None = None

    def pause_after(self, attempt: int, key: str) -> dt.timedelta:
        """How long to wait after the `attempt`-th failure: 1, 2, 4 ... minutes to 2 hours, give or take a
        quarter.

        The jitter is drawn from the notice's key, so that the same notice waits the same time in every test
        and two notices do not.
        """
        plain: dt.timedelta = min(FIRST_PAUSE * 2 ** min(attempt - 1, 12), LONGEST_PAUSE)
        drawn = int.from_bytes(hashlib.sha256(f"{key}/{attempt}".encode()).digest()[:8]) / 2**64
        return plain * (1 - JITTER + 2 * JITTER * drawn)

    def hold_until(
        self,
        at: dt.datetime,
        *,
        zone: str,
        quiet: QuietHours | None,
        not_after: dt.datetime,
        event_at: dt.datetime | None,
    ) -> dt.datetime | None:
        """Until when something ready at `at` waits for quiet hours to end; None to send it now.

        It is not held when it would be too late afterwards, nor when less than `urgent` would be left before
        the event: a reminder two hours before an early morning session is worth a sound at night, because the
        person asked to be woken for it by taking the duty, and a reminder after breakfast would come with the
        session.
        """
        release = quiet.end_of_quiet(at, zone) if quiet else None
        if release is None or release >= not_after:
            return None
        if event_at is not None and event_at - release < self.urgent:
            return None
        return release


def current() -> Policy:
    """The policy the settings ask for."""
    return Policy(
        lease=dt.timedelta(seconds=settings.NOTICES_LEASE_S),
        run_limit=dt.timedelta(seconds=settings.NOTICES_RUN_LIMIT_S),
        run=dt.timedelta(seconds=settings.NOTICES_RUN_S),
        most_attempts=settings.NOTICES_MOST_ATTEMPTS,
        urgent=dt.timedelta(hours=settings.NOTICES_URGENT_H),
        quiet=QuietHours.parse(settings.NOTICES_QUIET_HOURS),
    )


def problems(policy: Policy) -> list[str]:
    """What in the figures would break a promise of the outbox, in sentences."""
    found = []
    if policy.run >= policy.run_limit:
        found.append(
            f"A run takes work for {policy.run.total_seconds():g} s and is killed after "
            f"{policy.run_limit.total_seconds():g} s; the limit must be the longer of the two."
        )
    if policy.run_limit >= policy.lease:
        found.append(
            f"A claim lapses after {policy.lease.total_seconds():g} s, while the run that made it may live "
            f"{policy.run_limit.total_seconds():g} s; the lease must be longer, or a mail could go out twice."
        )
    return found
