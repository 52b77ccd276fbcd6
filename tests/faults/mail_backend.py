"""SMTP with stops on the way: before the connection, before a mail, after the server took it, at the end."""

from __future__ import annotations

from collections.abc import Sequence

from django.core.mail.backends.smtp import EmailBackend as SmtpBackend
from django.core.mail.message import EmailMessage

from tests.faults import stops


class EmailBackend(SmtpBackend):
    def open(self) -> bool | None:
        if self.connection is None:
            stops.reach("connecting")
        return super().open()

    def send_messages(self, messages: Sequence[EmailMessage]) -> int:
        stops.reach("sending")
        taken = super().send_messages(messages)
        stops.reach("taken")
        return taken

    def close(self) -> None:
        stops.reach("settled")
        super().close()
