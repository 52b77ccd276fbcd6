"""pip's words turned into ours. The outputs are transcripts of pip 23.2.1 and of venv, shortened."""

from __future__ import annotations

import io

import pytest

from clubops.bootstrap.pip_report import Progress, explain_failure

NO_NETWORK = """\
Collecting idna==3.10
WARNING: Retrying (Retry(total=0, connect=None, read=None, redirect=None, status=None)) after connection \
broken by 'NewConnectionError('<HTTPSConnection object at 0x7f>: Failed to establish a new connection: \
[Errno -3] Temporary failure in name resolution')': /simple/idna/
ERROR: Could not find a version that satisfies the requirement idna==3.10 (from versions: none)
ERROR: No matching distribution found for idna==3.10
"""
WRONG_HASH = """\
ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE. If you have updated the package \
versions, please update the hashes. Otherwise, examine the package contents carefully; someone may have \
tampered with them.
"""
DISK_FULL = """\
Installing collected packages: six
ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device
"""
NO_SUCH_WHEEL = """\
ERROR: Could not find a version that satisfies the requirement maidenhead==99.0 (from versions: 1.1.0, 1.8.0)
ERROR: No matching distribution found for maidenhead==99.0
"""
NO_ENSUREPIP = """\
The virtual environment was not created successfully because ensurepip is not
available.  On Debian/Ubuntu systems, you need to install the python3-venv
package using the following command.
"""


@pytest.mark.parametrize(
    ("output", "beginning"),
    [
        (NO_NETWORK, "The packages could not be fetched: the network or the package index did not answer."),
        (WRONG_HASH, "A package that was fetched is not the one requirements.lock names"),
        (DISK_FULL, "The disk is full; make room (about 1 GB) for /club"),
        (NO_SUCH_WHEEL, "A package in requirements.lock has no ready-made form for this Python and machine."),
        (NO_ENSUREPIP, "This Python came without its venv module"),
        ("[Errno 30] Read-only file system: '/club/.venv'", "/club cannot be written to"),
        ("Fetching\nERROR: The moon is full\n", "The environment could not be made, and this is the reason"),
        ("", "The environment could not be made"),
    ],
)
def test_a_failure_is_one_sentence_about_its_cause(output: str, beginning: str) -> None:
    assert explain_failure(output, "/club").startswith(beginning)


def test_an_unknown_failure_keeps_the_last_words() -> None:
    assert explain_failure("Fetching\nERROR: The moon is full\nbye\n", "/club").endswith(
        "ERROR: The moon is full"
    )


def test_progress_is_a_line_in_ten_where_nobody_watches() -> None:
    out = io.StringIO()
    progress = Progress(20, out)
    for number in range(20):
        progress.follow(f"Collecting package-{number}==1.0\n")
        progress.follow(f"  Downloading package_{number}-1.0-py3-none-any.whl (2.0 MB)\n")
    progress.follow("Installing collected packages: package-1\n")
    progress.finish()
    assert out.getvalue() == "  10 of 20  package-9\n  20 of 20  package-19\n  Unpacking 20 packages\n"


def test_progress_is_one_redrawn_line_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    out = io.StringIO()
    monkeypatch.setattr(out, "isatty", lambda: True)
    progress = Progress(3, out)
    progress.follow("Collecting numba==0.68.1\n")
    progress.follow("  Downloading numba-0.68.1-cp311-cp311-manylinux.whl (3.8 MB)\n")
    progress.finish()
    assert out.getvalue().count("\n") == 1
    assert "1 of 3  numba (3.8 MB)" in out.getvalue()
