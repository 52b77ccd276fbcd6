"""What a browser does at the desk of net control: open, type, wait."""

from __future__ import annotations

import time
from typing import Any

from tests.browser.conftest import WIDE
from tests.log.site import Site

QUEUE_BEGINS = "words => document.querySelector('#queue').textContent.startsWith(words)"
PATIENCE_MS = 30_000


def open_page(browser: Any, site: Site, who: str, **options: Any) -> tuple[Any, list[str]]:
    """A page of its own context, logged in, and what its scripts complain of."""
    settings = {"viewport": WIDE, "color_scheme": "light"} | options
    context = browser.new_context(**settings)
    context.set_default_timeout(PATIENCE_MS)
    log_in(context, site, who)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda problem: complaints.append(str(problem)))
    assert page.goto(site.log).status == 200
    return page, complaints


def log_in(context: Any, site: Site, who: str) -> None:
    context.add_cookies([{"name": "sessionid", "value": site.cookies[who], "url": site.url}])


def write(page: Any, *call_signs: str) -> None:
    """Type each call sign and press Enter, as fast as keys can go down."""
    for call_sign in call_signs:
        page.keyboard.type(call_sign)
        page.keyboard.press("Enter")


def shown(page: Any) -> list[str]:
    """Call signs in the list, first heard first."""
    found: list[str] = page.locator("#log-rows th .call-sign").all_inner_texts()
    return found[::-1]


def queue(page: Any) -> str:
    return str(page.locator("#queue").inner_text())


def until(page: Any, condition: str, argument: Any = None, *, within_ms: int = PATIENCE_MS) -> None:
    """Wait until a function is true of the page. The page's policy forbids the driver's own way of waiting."""
    deadline = time.monotonic() + within_ms / 1000
    while not page.evaluate(condition, argument):
        assert time.monotonic() < deadline, (condition, argument, queue(page))
        page.wait_for_timeout(50)


def keep_the_page(page: Any) -> None:
    """Wait until the browser can open the page without a connection."""
    until(
        page,
        "() => caches.open('club-log-page').then(kept => kept.match(location.pathname)).then(found => Boolean(found))",
    )


def wait_until_sent(page: Any) -> None:
    until(page, QUEUE_BEGINS, "Everything is sent")
