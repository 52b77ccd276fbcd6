"""Rasters in the store and the rows that name them: both or neither, and nothing half-written is ever seen.

A file is written in a scratch folder inside the store, moved into its place under a name of its own, and named by its
row in the transaction around the move. Killed before the move, a scratch folder is left; between the move and the
commit, a file that no row names. Nothing reads either, and `clear_leftovers` takes them away a day later.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import secrets
import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from django.core.files.storage import default_storage
from django.db import transaction

_INCOMING = "incoming-"
_LEFTOVER_AGE = dt.timedelta(days=1)


def digest_of(*files: Path, named: str = "") -> str:
    """SHA-256 of given files one after the other, behind `named` where the name belongs to what they say."""
    digest = hashlib.sha256(named.encode())
    for each in files:
        with each.open("rb") as stream:
            hashlib.file_digest(stream, lambda: digest)
    return digest.hexdigest()


def fresh_name(folder: str, stem: str) -> str:
    """A name in that folder of the store that no file has."""
    return f"{folder}/{stem}-{secrets.token_hex(8)}.tif"


@contextmanager
def scratch_in(folder: str) -> Iterator[Path]:
    """A folder to write in, on the same disk as that folder of the store; gone at the end."""
    store = Path(default_storage.path(folder))
    store.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=_INCOMING, dir=store) as made:
        yield Path(made)


def publish(written: Path, name: str, save: Callable[[], object]) -> None:
    """Move a whole file to `name` and save its row by `save()`; whatever that raises, the file is gone again."""
    final = Path(default_storage.path(name))
    with written.open("rb") as file:
        os.fsync(file.fileno())
    try:
        with transaction.atomic():
            written.replace(final)
            save()
    except BaseException:
        final.unlink(missing_ok=True)
        raise


def clear_leftovers(folder: str, named: Iterable[str], *, now: dt.datetime) -> None:
    """Remove scratch folders, and files that no row names, once they are a day old."""
    store = Path(default_storage.path(folder))
    known = {Path(name).name for name in named if name}
    before = (now - _LEFTOVER_AGE).timestamp()
    for entry in store.iterdir() if store.exists() else ():
        if entry.name in known or entry.stat().st_mtime > before:
            continue
        if entry.is_dir() and entry.name.startswith(_INCOMING):
            shutil.rmtree(entry, ignore_errors=True)
        elif entry.suffix == ".tif":
            entry.unlink(missing_ok=True)
