"""`manage.py translations [CODE ...]`: gather what letters say, bring the catalogues in step, and compile them.

Needs Babel, from the dev extras. Both files of a language are committed, so that nothing is compiled when the club's
program is installed or started.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

KEYWORDS: dict[str, Any] = {
    "gettext": None,
    "gettext_lazy": None,
    "gettext_noop": None,
    "ngettext": (1, 2),
    "pgettext": ((1, "c"), 2),
}
LOCALES = settings.BASE_DIR / "clubops" / "locale"


def gather() -> Catalog:
    """Every message of the club's own code, untranslated."""
    found = Catalog(project="clubops", charset="utf-8")
    for app in ("clubops", "relays", "nets"):
        rows = extract_from_dir(
            settings.BASE_DIR / app, method_map=[("**.py", "python")], keywords=KEYWORDS, comment_tags=()
        )
        for _file, _line, message, _comments, context in rows:
            found.add(message, context=context)
    return found


def po_file(code: str) -> Path:
    """The catalogue of a language."""
    return Path(LOCALES / code / "LC_MESSAGES" / "django.po")


def load(code: str) -> Catalog:
    """The catalogue of a language as it is written down; an empty one for a new language."""
    path = po_file(code)
    if not path.exists():
        return Catalog(locale=code, project="clubops", charset="utf-8")
    with path.open("rb") as file:
        return read_po(file, locale=code)


def compiled(catalogue: Catalog) -> bytes:
    """The bytes of the .mo file. Messages without a translation are left out."""
    file = io.BytesIO()
    write_mo(file, catalogue)
    return file.getvalue()


class Command(BaseCommand):
    help = "Bring clubops/locale/ in step with the code and compile it; needs the dev extras."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("codes", nargs="*", help="Such as de; every language there is unless given.")

    def handle(self, *args: Any, **options: Any) -> None:
        codes = options["codes"] or [path.name for path in sorted(LOCALES.iterdir()) if path.is_dir()]
        for code in codes:
            catalogue = load(code)
            catalogue.update(gather(), no_fuzzy_matching=True, update_creation_date=False)
            catalogue.obsolete.clear()
            path = po_file(code)
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("wb") as file:
                write_po(file, catalogue, no_location=True, sort_output=True, width=100)
            path.with_suffix(".mo").write_bytes(compiled(catalogue))
            missing = sum(not is_translated(message) for message in catalogue if message.id)
            self.stdout.write(f"{code}: {len(catalogue)} messages, {missing} without a translation.")
            if missing:
                raise CommandError(f"Fill in {path.relative_to(settings.BASE_DIR)} and run this again.")


def is_translated(message: Any) -> bool:
    """Whether a message says something in every form."""
    return all(message.string) if isinstance(message.string, tuple) else bool(message.string)
