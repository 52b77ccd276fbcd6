"""The first officer of a new club: a roster entry, a login, and a password shown once."""

from __future__ import annotations

import argparse
import secrets
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError

from clubops.members.roster import add_officer


class Command(BaseCommand):
    help = "Add an officer with a login. The password is made here, shown once, and changed after logging in."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("call_sign")
        parser.add_argument("name")
        parser.add_argument("--email", default="")

    def handle(self, *args: Any, **options: Any) -> None:
        password = secrets.token_urlsafe(12)
        try:
            user = add_officer(
                options["call_sign"], options["name"], email=options["email"], password=password
            )
        except ValidationError as problem:
            raise CommandError(" ".join(problem.messages)) from problem
        self.stdout.write(f"Log in as {user.get_username()} with {password}")
