"""What keeps a child from outliving the process that started it. Run by path, standard library only.

`leash.py hold PARENT COMMAND...` becomes COMMAND, having asked Linux to send it SIGTERM when PARENT dies.
`leash.py guard` reads the supervisor's list of process groups from its input. The end of that input means
the supervisor is gone, however it went: whatever is still on the list is then asked to stop, and killed
with all its descendants when it does not. The first works even if the guard is killed as well; the second
works everywhere and reaches grandchildren.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import shutil
import signal
import sys
import time
from collections.abc import Iterable, Sequence
from pathlib import Path

PR_SET_PDEATHSIG = 1  # <linux/prctl.h>
GRACE_S = 5.0
TEMPORARY_PREFIX = "clubops-"


def hold(parent: int, argv: Sequence[str]) -> None:
    """Become `argv`, to be told by the kernel of the parent's death where the kernel can do that.

    The kernel tells of the death of the parent's starting *thread*, so children are started from the
    main thread.
    """
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, int(signal.SIGTERM))
    if os.getppid() != parent:
        return  # it died before the request was in place
    os.execvp(argv[0], list(argv))


def guard(lines: Iterable[str], grace_s: float = GRACE_S) -> None:
    """Follow the list until it ends, then stop every process group still on it and remove the folders."""
    for ignored in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(ignored, signal.SIG_IGN)
    groups: list[int] = []
    folders: list[Path] = []
    for line in lines:
        word, _, value = line.rstrip("\n").partition(" ")
        if word == "group":
            groups.append(int(value))
        elif word == "gone":
            groups.remove(int(value))
        elif word == "folder":
            folders.append(Path(value))
    stop_groups(list(reversed(groups)), grace_s)
    for folder in folders:
        if folder.name.startswith(TEMPORARY_PREFIX):
            shutil.rmtree(folder, ignore_errors=True)


def stop_groups(groups: Sequence[int], grace_s: float) -> None:
    """Ask each group's leader to stop; kill what is left of the groups after `grace_s` seconds."""
    for group in groups:
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.kill(group, signal.SIGTERM)
    end = time.monotonic() + grace_s
    while any(group_exists(group) for group in groups) and time.monotonic() < end:
        time.sleep(0.05)
    for group in groups:
        kill_group(group)


def group_exists(group: int) -> bool:
    try:
        os.killpg(group, 0)
    except (ProcessLookupError, PermissionError):
        return False
    return True


def kill_group(group: int) -> None:
    """Kill whatever is left of a process group; nothing left is no error."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(group, signal.SIGKILL)


if __name__ == "__main__":
    if sys.argv[1] == "hold":
        hold(int(sys.argv[2]), sys.argv[3:])
    else:
        guard(sys.stdin)
