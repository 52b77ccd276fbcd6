"""What pip is doing and why it failed, in plain words."""

from __future__ import annotations

import re
from typing import TextIO

_COLLECTING = re.compile(r"^Collecting (?P<name>[A-Za-z0-9._-]+)")
_DOWNLOADING = re.compile(r"^\s*Downloading \S+ \((?P<size>[^)]+)\)")

# The first line whose words occur in what pip said wins, so causes stand before their consequences: after
# a network failure pip ends with "No matching distribution", which alone would mean something else.
_CAUSES: tuple[tuple[tuple[str, ...], str], ...] = (
    (
        ("no space left on device", "errno 28", "disk quota exceeded", "errno 122"),
        "The disk is full; make room (about 1 GB) for {folder} and the temporary folder, and run this again.",
    ),
    (
        ("do not match the hashes", "hashes are required"),
        (
            "A package that was fetched is not the one requirements.lock names, so it was not installed; "
            "the lock or the package index has been changed."
        ),
    ),
    (
        ("certificate verify failed", "sslerror"),
        (
            "The package index could not be trusted: its certificate was not accepted. Check the clock and "
            "any proxy of this machine, and run this again."
        ),
    ),
    (
        (
            "name resolution",
            "name or service not known",
            "nodename nor servname",
            "network is unreachable",
            "no route to host",
            "connection refused",
            "connection reset",
            "connection broken",
            "connection aborted",
            "timed out",
            "proxyerror",
            "cannot connect to proxy",
            "incompleteread",
            "503 server error",
            "502 server error",
        ),
        (
            "The packages could not be fetched: the network or the package index did not answer. "
            "Check the connection and run this again; what was already fetched is kept."
        ),
    ),
    (
        ("read-only file system", "errno 30", "permission denied", "errno 13", "operation not permitted"),
        "{folder} cannot be written to; copy the project to a folder of your own and run this there.",
    ),
    (
        ("ensurepip is not available", "no module named ensurepip", "no module named venv"),
        (
            "This Python came without its venv module, which makes the project's environment; "
            "on Debian or Ubuntu install it with: apt install python3-venv"
        ),
    ),
    (
        ("contains the path separator",),
        "{folder} has a colon in its name, which an environment's path cannot hold; rename the folder.",
    ),
    (
        ("no matching distribution", "from versions"),
        (
            "A package in requirements.lock has no ready-made form for this Python and machine. "
            "It was tried with Python 3.11, 3.12 and 3.13 on 64-bit Intel and AMD machines with Linux."
        ),
    ),
)


def explain_failure(output: str, folder: str) -> str:
    """One sentence for the person at the keyboard, and pip's own last words where no cause is recognised."""
    words = " ".join(output.lower().split())
    for signs, sentence in _CAUSES:
        if any(sign in words for sign in signs):
            return sentence.format(folder=folder)
    lines = [line.strip() for line in output.splitlines() if line.strip()]
    errors = [line for line in lines if line.upper().startswith("ERROR")]
    last_words = (errors or lines or ["it gave no reason"])[-1]
    return f"The environment could not be made, and this is the reason given: {last_words}"


class Progress:
    """A count of the packages pip has fetched: one line redrawn on a terminal, a line in ten elsewhere."""

    def __init__(self, total: int, out: TextIO) -> None:
        self.total = total
        self.count = 0
        self.name = ""
        self.out = out
        self.on_terminal = out.isatty()

    def follow(self, line: str) -> None:
        """Read one line of pip's output and say what it means, if anything new."""
        if found := _COLLECTING.match(line):
            self.count += 1
            self.name = found["name"]
            self._say(f"{self.count} of {self.total}  {self.name}", minor=self.count % 10 != 0)
        elif found := _DOWNLOADING.match(line):
            self._say(f"{self.count} of {self.total}  {self.name} ({found['size']})", minor=True)
        elif line.startswith("WARNING: Retrying"):
            self._say("No answer from the package index; trying again", minor=False)
        elif line.startswith("Installing collected packages"):
            self._say(f"Unpacking {self.count} packages", minor=False)

    def finish(self) -> None:
        """Leave the redrawn line behind."""
        if self.on_terminal:
            self.out.write("\n")
            self.out.flush()

    def _say(self, text: str, *, minor: bool) -> None:
        if self.on_terminal:
            self.out.write(f"\r\x1b[K  {text}"[:100])
        elif not minor:
            self.out.write(f"  {text}\n")
        self.out.flush()
