"""The signing key of a club that has not set one: made once, kept under var/, readable by the owner only."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path


def read_or_make_secret_key(path: Path) -> str:
    """The key stored at `path`, made there when missing.

    Two processes starting together end with the same key: the file is linked into place whole, and the
    loser of that race reads the winner's.
    """
    if not path.exists():
        draft = path.with_name(f"{path.name}.{os.getpid()}")
        draft.touch(mode=0o600)
        draft.write_text(secrets.token_urlsafe(50))
        with contextlib.suppress(FileExistsError):
            os.link(draft, path)
        draft.unlink()
    return path.read_text().strip()
