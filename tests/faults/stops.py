"""Places at which a worker process stops for good, so that a test can kill it exactly there."""

from __future__ import annotations

import os
import time
from pathlib import Path

FOLDER = "CLUBOPS_FAULTS_FOLDER"


def arm(folder: Path, step: str) -> Path:
    """Let the first worker that comes to `step` stop there; the file returned appears when it does."""
    reached = folder / f"reached {step}"
    reached.unlink(missing_ok=True)
    (folder / "stop at").write_text(step)
    return reached


def reach(step: str) -> None:
    """Called by a worker: stop here, if a test wants that and no other worker has."""
    folder = Path(os.environ[FOLDER])
    wanted = folder / "stop at"
    if not wanted.exists() or wanted.read_text() != step:
        return
    try:
        (folder / f"reached {step}").touch(exist_ok=False)
    except FileExistsError:
        return
    while True:
        time.sleep(1)
