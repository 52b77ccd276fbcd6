"""`manage.py check_club`: whether reminders leave, in sentences; exit status 1 when they do not."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from clubops.notices import health


def _when(at: dt.datetime | None) -> str:
    return f"{at:%Y-%m-%d %H:%M:%S} UTC" if at else "never"


class Command(BaseCommand):
    help = "Say whether reminders leave, what is due and what last went out; exit status 1 when not well."

    def handle(self, *args: Any, **options: Any) -> None:
        found = health.look(now=timezone.now())
        self.stdout.write(f"Sending last ran:      {_when(found.sending_ran_at)}")
        self.stdout.write(f"Planning last ran:     {_when(found.planning_ran_at)}")
        self.stdout.write(f"Pruning last ran:      {_when(found.pruning_ran_at)}")
        self.stdout.write(f"Last notice sent:      {_when(found.last_sent_at)}")
        self.stdout.write(f"Ready to go now:       {found.due_now}")
        if found.oldest_due_at:
            self.stdout.write(f"Oldest ready since:    {_when(found.oldest_due_at)}")
        self.stdout.write(f"Waiting for their time: {found.waiting}")
        self.stdout.write(
            f"In the last 24 hours:  {found.failed_lately} failed, {found.missed_lately} missed"
        )
        if not found.is_well:
            said = " ".join(found.troubles)
            raise CommandError(f"{said} {found.mail_problem}".strip())
        self.stdout.write("Everything runs.")
