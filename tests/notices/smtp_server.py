"""A real SMTP server for tests: takes, refuses, stalls, drops half-way, and keeps what it took."""

from __future__ import annotations

import asyncio
import logging
import socket
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from email import message_from_bytes
from email.message import Message

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

logging.getLogger("mail.log").setLevel(logging.WARNING)  # every line of every conversation otherwise

Answer = str | None
TAKEN = "250 taken"


class Post:
    """What the server does at each step, and what it took. Steps are `RCPT`, `DATA` (all of it is there).

    `answer(step, envelope)` gives a reply to send instead of the usual one, `None` for the usual one, or
    "drop" to break the connection without a word.
    """

    def __init__(self, answer: Callable[[str, Envelope], Answer] = lambda step, envelope: None) -> None:
        self.answer = answer
        self.taken: list[Message] = []
        self.taken_at_s: list[float] = []
        self.delay_s = 0.0

    @property
    def ids(self) -> Counter[str]:
        """How often each Message-ID was taken."""
        return Counter(str(message["Message-ID"]) for message in self.taken)

    async def handle_RCPT(
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        envelope.rcpt_tos.append(address)
        answer = self.answer("RCPT", envelope)
        if answer is not None:
            envelope.rcpt_tos.pop()
            return await self._act(server, answer)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        answer = self.answer("DATA", envelope)
        if answer not in (None, "drop after taking"):
            return await self._act(server, answer)
        self.taken.append(message_from_bytes(envelope.original_content or b""))
        self.taken_at_s.append(time.monotonic())
        if self.delay_s:
            await asyncio.sleep(self.delay_s)
        return await self._act(server, "drop") if answer else TAKEN

    async def _act(self, server: SMTP, answer: str) -> str:
        if answer.startswith("stall"):
            await asyncio.sleep(float(answer.split()[1]))
            return "451 that took long"
        if answer == "drop":
            server.transport.abort()
        return answer


def free_port() -> int:
    with socket.socket() as chosen:
        chosen.bind(("127.0.0.1", 0))
        return int(chosen.getsockname()[1])


@contextmanager
def serving(post: Post, port: int = 0) -> Iterator[int]:
    """The server on its port of 127.0.0.1."""
    controller = Controller(post, hostname="127.0.0.1", port=port or free_port())
    controller.start()
    try:
        yield controller.port
    finally:
        controller.stop()
