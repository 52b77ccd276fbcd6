"""A project small enough to bootstrap in seconds and offline: our own manage.py, and one invented package.

The package stands where Django and pytest would, so that the whole way from a bare Python to the command
is walked for real: venv, pip, hashes, the mark, and going on inside.
"""

from __future__ import annotations

import base64
import hashlib
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BARE_PYTHON = getattr(sys, "_base_executable", sys.executable)

MODULES = {
    "django/__init__.py": "",
    "django/core/__init__.py": "",
    "django/core/management.py": (
        "import sys\n"
        "def execute_from_command_line(argv):\n"
        "    print('django ran', *argv[1:], 'in', sys.prefix)\n"
    ),
    "pytest.py": "import sys\nprint('pytest got', sys.argv[1:])\nsys.exit(3)\n",
}


def write_wheel(folder: Path) -> Path:
    """A wheel as PyPA's binary distribution format 1.0 asks: modules, METADATA, WHEEL, RECORD."""
    info = "tiny_club_package-1.0.dist-info"
    members = {
        **MODULES,
        f"{info}/METADATA": "Metadata-Version: 2.1\nName: tiny-club-package\nVersion: 1.0\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: test\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = ""
    for name, text in members.items():
        digest = base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).decode().rstrip("=")
        record += f"{name},sha256={digest},{len(text)}\n"
    members[f"{info}/RECORD"] = record + f"{info}/RECORD,,\n"
    path = folder / "tiny_club_package-1.0-py3-none-any.whl"
    with zipfile.ZipFile(path, "w") as wheel:
        for name, text in members.items():
            wheel.writestr(name, text)
    return path


class TinyProject:
    """A copy of the bootstrap in a folder of its own, with a lock that names the one wheel."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.venv = folder / ".venv"
        self.mark = self.venv / "made-by-manage.json"
        folder.mkdir(parents=True)
        self.wheels = folder.parent / "wheels"  # pip takes no spaces in this folder's path
        self.wheels.mkdir()
        shutil.copy(ROOT / "manage.py", folder)
        shutil.copytree(
            ROOT / "clubops" / "bootstrap",
            folder / "clubops" / "bootstrap",
            ignore=shutil.ignore_patterns("__pycache__"),
        )
        shutil.copy(ROOT / "clubops" / "__init__.py", folder / "clubops")
        (folder / "pyproject.toml").write_text(
            '[project]\nname = "tiny"\ndependencies = ["tiny-club-package>=1"]\n'
        )
        self.lock_with(hashlib.sha256(write_wheel(self.wheels).read_bytes()).hexdigest())

    def lock_with(self, sha256: str) -> None:
        lock = self.folder / "requirements.lock"
        lock.write_text(f"tiny-club-package==1.0 \\\n    --hash=sha256:{sha256}\n")

    @property
    def environment(self) -> dict[str, str]:
        """No package index and no configuration but the folder of wheels."""
        ours = {"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": str(self.wheels), "PIP_CONFIG_FILE": os.devnull}
        others = {name: os.environ[name] for name in os.environ if not name.startswith(("PIP_", "CLUBOPS_"))}
        return others | ours

    def start(self, *arguments: str, python: str = BARE_PYTHON) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [python, str(self.folder / "manage.py"), *arguments],
            env=self.environment,
            cwd=self.folder,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )

    def run(self, *arguments: str, python: str = BARE_PYTHON) -> subprocess.CompletedProcess[str]:
        with self.start(*arguments, python=python) as process:
            out, err = process.communicate(timeout=120)
        return subprocess.CompletedProcess(process.args, process.returncode, out, err)
