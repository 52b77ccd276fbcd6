"""How many calendar requests a second the web server answers, as the service starts it.

Run by name: `manage.py test tests/bench/test_feed_bench.py -s`. It needs `wrk` (a Debian package), which runs on the
same cores and takes its share of them. Goals on two cores: 2,000 a second of 304 and 500 a second of 200.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.feeds.server import Served, serving

pytestmark = [
    pytest.mark.bench,
    pytest.mark.skipif(shutil.which("wrk") is None, reason="wrk is not installed (a Debian package)"),
]

NETS = 20
CONNECTIONS, SECONDS, RUNS = 16, 4, 3
GOALS = {304: 2000, 200: 500}
ROWS: list[str] = []
TICKS_PER_S = os.sysconf("SC_CLK_TCK")


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(tmp_path_factory.mktemp("bench"), nets=NETS) as server:
        yield server
        print("\n\n| calendar | answer | bytes | a second | CPU a request, us | load of the machine before |")
        print("|---|---|---|---|---|---|", *ROWS, sep="\n")


def cpu_ticks(pid: int) -> int:
    """Ticks of CPU that the server's processes have used."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    stats = [Path(f"/proc/{each}/stat").read_text().rpartition(")")[2].split() for each in (pid, *children)]
    return sum(int(stat[11]) + int(stat[12]) for stat in stats)


def load(served: Served, path: str, *headers: str) -> tuple[float, float]:
    """Requests a second, and the server's CPU a request (microseconds), of one run."""
    given = [part for header in headers for part in ("-H", header)]
    command = [
        "wrk",
        "-t1",
        f"-c{CONNECTIONS}",
        f"-d{SECONDS}s",
        *given,
        f"http://127.0.0.1:{served.port}{path}",
    ]
    before = cpu_ticks(served.pid)
    said = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout
    used_s = (cpu_ticks(served.pid) - before) / TICKS_PER_S
    assert "Socket errors" not in said, said
    requests = int(re.search(r"(\d+) requests in", said)[1])  # type: ignore[index]
    return float(re.search(r"Requests/sec:\s+([\d.]+)", said)[1]), used_s / requests * 1e6  # type: ignore[index]


@pytest.mark.parametrize("coding", ["plain", "gzip"])
@pytest.mark.parametrize("status", [304, 200])
@pytest.mark.parametrize("which", ["club", "net", "member"])
def test_requests_a_second(which: str, status: int, coding: str, served: Served) -> None:
    path = served.paths[which]
    headers = ["Accept-Encoding: gzip"] if coding == "gzip" else []
    answer, found, body = served.ask(path, "GET", *headers)
    assert answer.startswith("HTTP/1.1 200")
    if status == 304:
        headers.append(f"If-None-Match: {found['etag']}")
        assert served.ask(path, "GET", *headers)[0].startswith("HTTP/1.1 304")
    busy = os.getloadavg()[0]
    best, cpu_us = max(load(served, path, *headers) for _ in range(RUNS))
    size = len(body) if status == 200 else 0
    ROWS.append(f"| {which} | {status} {coding} | {size} | {best:.0f} | {cpu_us:.0f} | {busy:.1f} |")
    assert best >= GOALS[status]
