"""`.venv` in the project folder: whether it is good, making it, and going on inside it."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import importlib.util
import json
import os
import platform
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NoReturn

from clubops.bootstrap.errors import SetupError
from clubops.bootstrap.pip_report import Progress, explain_failure
from clubops.bootstrap.requirements import missing_requirements

MARK_NAME = "made-by-manage.json"
# The process that went over to .venv; the same process asking to go there again would go round for ever.
ENTERED = "CLUBOPS_ENTERED_ENVIRONMENT"
# Measured on Linux, Python 3.11: 0.97 GB. With less, the installation would fail half-way.
ROOM_NEEDED_BYTES = 1_100_000_000
FULL_DISK_BYTES = 10_000_000


class Environment:
    """The environment of the project in `folder`, whether it exists yet or not."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()
        self.path = self.folder / ".venv"
        self.python = self.path / "bin" / "python"
        self.lock = self.folder / "requirements.lock"
        self.mark = self.path / MARK_NAME

    def is_this_interpreter_good(self, extras: Sequence[str]) -> bool:
        """Whether the running Python is the project's complete environment or another one that will do."""
        if self.mark.exists() and Path(sys.prefix).samefile(self.path):
            return self.is_marked_complete()
        return not missing_requirements(self.folder, extras)

    def is_good(self, extras: Sequence[str]) -> bool:
        """Whether `.venv` can be used: complete by our own mark, or made by hand and holding everything."""
        if not os.access(self.python, os.X_OK):
            return False
        if self.mark.exists():
            return self.is_marked_complete()
        check = (
            "import sys; from pathlib import Path; sys.path.insert(0, sys.argv[1]); "
            "from clubops.bootstrap.requirements import missing_requirements; "
            "sys.exit(bool(missing_requirements(Path(sys.argv[1]), sys.argv[2:])))"
        )
        argv = [str(self.python), "-I", "-c", check, str(self.folder), *extras]
        return subprocess.run(argv, capture_output=True, check=False).returncode == 0

    def start_again_inside(self, argv: Sequence[str]) -> NoReturn:
        """Replace this process by the same command run with `.venv`'s Python."""
        if os.environ.get(ENTERED) == str(os.getpid()):
            raise SetupError(f"{self.path} looks complete and does not work; remove it and run this again.")
        sys.stdout.flush()
        os.execve(self.python, [str(self.python), *argv], {**os.environ, ENTERED: str(os.getpid())})

    def expected_mark(self) -> dict[str, str]:
        """What a complete environment's mark says: for which lock, Python and folder it was made.

        The folder is part of it because an environment holds its own path and cannot be moved.
        """
        return {
            "lock_sha256": hashlib.sha256(self.lock.read_bytes()).hexdigest(),
            "python": f"{platform.python_implementation()} {sys.version_info[0]}.{sys.version_info[1]}",
            "machine": sysconfig.get_platform(),
            "folder": str(self.path),
            "state": "complete",
        }

    def is_marked_complete(self) -> bool:
        try:
            return bool(json.loads(self.mark.read_text()) == self.expected_mark())
        except (OSError, ValueError):
            return False

    def write_mark(self, mark: dict[str, str]) -> None:
        """Put the mark in place whole; on a failure (OSError) nothing of it stays behind."""
        draft = self.mark.with_suffix(".draft")
        try:
            with draft.open("w") as file:
                json.dump(mark, file, indent=1)
                file.flush()
                os.fsync(file.fileno())
            draft.replace(self.mark)
        finally:
            draft.unlink(missing_ok=True)

    def make(self, extras: Sequence[str] = ()) -> None:
        """Make `.venv` from the lock, or wait for another run that is making it.

        Raises SetupError with the reason; whatever was begun is then removed, and if even that fails the
        mark still says "being made", so the next run starts over.
        """
        refuse_where_venv_is_missing()
        with self.only_one_at_a_time() as lock_fd:
            if self.is_good(extras):
                return
            try:
                self.clear_the_place()
                self.write_mark({"state": "being made"})
                self.refuse_without_room()
                self.install(lock_fd)
                # A power cut must not leave the mark on the disk ahead of the packages.
                os.sync()
                self.write_mark(self.expected_mark())
                print("The environment is ready.", flush=True)
            except BaseException as reason:
                if self.mark.exists():
                    shutil.rmtree(self.path, ignore_errors=True)
                if isinstance(reason, OSError):
                    raise SetupError(explain_failure(str(reason), str(self.folder))) from reason
                raise

    @contextlib.contextmanager
    def only_one_at_a_time(self) -> Iterator[int]:
        """Hold the project folder itself locked: nothing to leave behind, released on any death."""
        try:
            import fcntl  # noqa: PLC0415 - absent on Windows, where this is the first thing to fail
        except ImportError:
            raise SetupError("This runs on Linux and macOS; on Windows, run it inside WSL.") from None
        lock_fd = os.open(self.folder, os.O_RDONLY)
        try:
            try:
                fcntl.flock(lock_fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                print("Another run is making .venv; waiting for it to finish.", flush=True)
                fcntl.flock(lock_fd, fcntl.LOCK_EX)
            yield lock_fd
        finally:
            os.close(lock_fd)

    def refuse_without_room(self) -> None:
        free = shutil.disk_usage(self.folder).free
        if free < ROOM_NEEDED_BYTES:
            raise SetupError(
                f"There is {free / 1e9:.1f} GB free in {self.folder}, and .venv needs about "
                f"{ROOM_NEEDED_BYTES / 1e9:.1f} GB; make room and run this again."
            )

    def clear_the_place(self) -> None:
        """Remove an old environment of ours; move aside one that somebody else made."""
        if self.path.is_symlink() or (self.path.exists() and not self.path.is_dir()):
            raise SetupError(f"{self.path} is in the way; move it elsewhere and run this again.")
        if self.mark.exists():
            # Should this be cut short, the mark goes last and what is left is still not "complete".
            self.write_mark({"state": "being removed"})
            for entry in self.path.iterdir():
                if entry != self.mark:
                    shutil.rmtree(entry) if entry.is_dir() and not entry.is_symlink() else entry.unlink()
        elif self.path.exists() and any(self.path.iterdir()):
            kept = next(
                name
                for number in range(1, 1000)
                if not (name := self.path.with_name(f".venv-kept-{number}")).exists()
            )
            self.path.rename(kept)
            print(f"The .venv here is not complete and not ours to delete; it is kept as {kept.name}.")
        self.path.mkdir(exist_ok=True)

    def install(self, lock_fd: int) -> None:
        """Make the environment, install the locked packages, and put the project on its path.

        The project itself is named in a .pth file, not installed with pip: an editable installation needs
        a build backend, which the lock holds for some Pythons only, and its files cannot be hash-checked.
        """
        print(f"Making .venv with Python {platform.python_version()}: once, a minute or two.", flush=True)
        # In an environment already, the Python it was made from: the old one may be about to go.
        base = getattr(sys, "_base_executable", None) or sys.executable
        self.run_step([base, "-m", "venv", str(self.path)], lock_fd)
        total = sum(1 for line in self.lock.read_text().splitlines() if "==" in line)
        # Wheels only: building from source would run code that no hash covers.
        self.run_step(
            [
                *(str(self.python), "-I", "-m", "pip", "install", "--require-hashes"),
                *("--only-binary", ":all:", "--no-input", "--disable-pip-version-check"),
                *("-r", str(self.lock)),
            ],
            lock_fd,
            Progress(total, sys.stdout),
        )
        packages = Path(sysconfig.get_path("purelib", "venv", {"base": str(self.path)}))
        (packages / "project.pth").write_bytes(os.fsencode(self.folder) + b"\n")

    def run_step(self, argv: Sequence[str], lock_fd: int, progress: Progress | None = None) -> None:
        """Run one command, following its output; raises SetupError when it fails.

        The command holds the lock too, so that if this process is killed nobody starts over while pip is
        still writing.
        """
        output: list[str] = []
        with subprocess.Popen(
            argv,
            cwd=self.folder,
            env=quiet_environment(),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            pass_fds=(lock_fd,),
            text=True,
            errors="replace",
        ) as process:
            assert process.stdout is not None
            try:
                for line in process.stdout:
                    output.append(line)
                    if progress:
                        progress.follow(line)
            except BaseException:
                process.terminate()
                raise
        if progress:
            progress.finish()
        if process.returncode != 0:
            # `venv` hides what its own pip ran into, and a full disk is what it most likely was.
            full = shutil.disk_usage(self.folder).free < FULL_DISK_BYTES
            said = os.strerror(errno.ENOSPC) if full else "".join(output)
            raise SetupError(explain_failure(said, str(self.folder)))


def refuse_where_venv_is_missing() -> None:
    """Debian and Ubuntu leave part of the standard library's `venv` to a package of its own."""
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        raise SetupError(
            "This Python came without its venv module, which makes the project's environment; "
            "on Debian or Ubuntu install it with: apt install python3-venv"
        )


def quiet_environment() -> dict[str, str]:
    """The process environment without what would send packages, or Python itself, elsewhere."""
    unwanted = ("PYTHONPATH", "PYTHONHOME", "PIP_USER", "PIP_TARGET", "PIP_PREFIX", "__PYVENV_LAUNCHER__")
    return {name: value for name, value in os.environ.items() if name not in unwanted}
