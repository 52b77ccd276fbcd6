"""A site with a log to keep, in a process of its own, and a browser at the desk of net control."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from tests.log.desk import open_page
from tests.log.site import Site

Drive = Callable[..., Any]


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Of one module and not of the whole run: its sessions began five minutes before and last an hour."""
    with Site(tmp_path_factory.mktemp("site")) as site:
        yield site


@pytest.fixture
def site(running: Site) -> Site:
    """The running site, turned to an evening of its own."""
    running.next_evening()
    return running


@pytest.fixture
def at_the_desk(chromium: Drive, site: Site) -> Drive:
    """`at_the_desk(function, who=..., size=...)` opens the log page and gives what the function of it returns."""

    def go(function: Callable[[Any], Any], *, who: str = "QZ2NCS", **options: Any) -> Any:
        def drive(browser: Any) -> Any:
            page, complaints = open_page(browser, site, who, **options)
            try:
                given = function(page)
                assert complaints == []
                return given
            finally:
                page.context.close()

        return chromium(drive)

    return go
