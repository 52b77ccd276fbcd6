"""A real Chromium, driven from one thread of its own so that the ORM stays usable in the test's thread."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client

from clubops.members.models import User
from relays.coverage import runs, working
from relays.models import CoverageRun, Relay, TerrainTile

WIDE = {"width": 1280, "height": 800}
PHONE = {"width": 360, "height": 740}
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Callable[..., Any]]:
    """Runs a function of the browser in the browser's thread: `chromium(function, *arguments)`."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("Debian's chromium is not installed: apt-get install chromium.")
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="The dev extra playwright is not installed."
    )
    with ThreadPoolExecutor(max_workers=1) as thread:
        driver = thread.submit(lambda: playwright.sync_playwright().start()).result()
        browser = thread.submit(lambda: driver.chromium.launch(executable_path=path, args=FLAGS)).result()
        yield lambda function, *arguments: thread.submit(function, browser, *arguments).result()
        thread.submit(browser.close).result()
        thread.submit(driver.stop).result()


@pytest.fixture
def visit(chromium: Callable[..., Any], live_server: Any) -> Callable[..., Any]:
    """Opens a page in a fresh context and gives what a function of that page returns.

    `visit(address, function, size=PHONE, theme="dark", client=browser_of_a_reader, scripts=False)`; the
    client's login is carried over. Console errors stop the test: a blocked style or script is one.
    """

    def go(
        address: str,
        function: Callable[[Any], Any],
        *,
        size: dict[str, int] = WIDE,
        theme: str = "light",
        client: Client | None = None,
        scripts: bool = True,
        status: int = 200,
    ) -> Any:
        cookies = [
            {"name": name, "value": morsel.value, "url": live_server.url}
            for name, morsel in (client.cookies.items() if client else ())
        ]

        def drive(browser: Any) -> Any:
            context = browser.new_context(
                viewport=size, color_scheme=theme, has_touch=size == PHONE, java_script_enabled=scripts
            )
            try:
                context.add_cookies(cookies)
                page = context.new_page()
                complaints: list[str] = []
                page.on(
                    "console", lambda line: complaints.append(line.text) if line.type == "error" else None
                )
                page.on("pageerror", lambda problem: complaints.append(str(problem)))
                response = page.goto(live_server.url + address)
                assert response.status == status, f"{address} answered {response.status}"
                # The console reports the page's own 404 as a failed resource; that one is asked for.
                assert [line for line in complaints if f"status of {status}" not in line] == []
                return function(page)
            finally:
                context.close()

        return chromium(drive)

    return go


@pytest.fixture
def drawn(relay: Relay, ground: TerrainTile, now: dt.datetime) -> CoverageRun | None:
    """The relay's coverage worked out and stored, as a worker leaves it."""
    return working.compute(runs.ask(relay, now=now).pk, clock=lambda: now)


@pytest.fixture(autouse=True)
def empty_tables(transactional_db: None) -> None:
    """Begin with no rows: a page still loading when its test ended can keep that test's tables from being emptied."""
    if User.objects.exists():
        call_command("flush", verbosity=0, interactive=False)
