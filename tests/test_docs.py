"""What the documents say is still so."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
DOCUMENTS = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]


def variables_read() -> set[str]:
    text = "".join(
        path.read_text() for path in (ROOT / "clubops").rglob("*.py") if "bootstrap" not in path.parts
    )
    return set(re.findall(r'"(CLUBOPS_[A-Z0-9_]+)"', text))


def test_every_setting_is_explained() -> None:
    explained = set(re.findall(r"`(CLUBOPS_[A-Z0-9_]+)`", (ROOT / "docs" / "settings.md").read_text()))
    assert variables_read() == explained


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_file_it_names_is_there(document: Path) -> None:
    named = re.findall(
        r"(?<![\w/])((?:docs|fixtures|tests|clubops|relays|nets)/[\w./*-]+\.(?:md|py|json))",
        document.read_text(),
    )
    missing = [name for name in named if not list(ROOT.glob(name))]
    assert not missing


def test_every_command_in_the_readme_is_a_command() -> None:
    commands = set(re.findall(r"manage\.py (\w+)", (ROOT / "README.md").read_text()))
    own = {path.stem for path in ROOT.glob("*/**/management/commands/*.py")}
    assert commands - own <= {"test", "migrate"}


def test_no_document_names_a_package_index_or_a_machine() -> None:
    names = ("pypi" + ".org", "python" + "hosted", "registry." + "npmjs", "/wor" + "k/")
    assert not [path for path in DOCUMENTS for name in names if name in path.read_text()]
