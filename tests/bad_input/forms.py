"""What a page's form would send if its reader pressed the button again: the way to see that nothing typed was lost."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any


class FormState(HTMLParser):
    """Every (name, value) that the forms of a page hold, as a browser would submit them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.held: set[tuple[str, str]] = set()
        self._area = self._select = ""
        self._text: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attributes}
        name = given.get("name", "")
        if tag == "textarea":
            self._area, self._text = name, []
        elif tag == "select":
            self._select = name
        elif tag == "option" and "selected" in given:
            self.held.add((self._select, given.get("value", "")))
        elif tag == "input" and (given.get("type") not in {"checkbox", "radio"} or "checked" in given):
            unsaid = "on" if given.get("type") in {"checkbox", "radio"} else ""
            self.held.add((name, given.get("value", unsaid)))

    def handle_data(self, data: str) -> None:
        self._text.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            # A browser drops the line break that HTML allows after the opening tag.
            self.held.add((self._area, "".join(self._text).removeprefix("\n")))


def sent(data: dict[str, Any]) -> set[tuple[str, str]]:
    """The same of what was posted, empty fields left out."""
    return {
        (name, str(each))
        for name, value in data.items()
        for each in (value if isinstance(value, list) else [value])
        if str(each)
    }
