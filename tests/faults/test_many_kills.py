"""Four workers, two thousand due notices, fifty kills at random moments: each notice arrives once.

The one window that cannot be closed is counted: a mail is repeated only if its worker was killed between the server's
yes and the settling, so no more mails are repeated than workers were killed, and each repeat has the Message-ID of the
first.
"""

from __future__ import annotations

import os
import random
import signal
import time
from collections import defaultdict
from pathlib import Path

import pytest

from clubops.processes.child import RunningChild
from tests.faults.scene import Scene, deliveries, doubled
from tests.notices.smtp_server import Post

pytestmark = pytest.mark.faults

SEED = 20260303
WORKERS = 4
KILLS = 50
PEOPLE, EACH = 1000, 2
# A run of 3 s, killed after 8 s, claims lapse after 10 s.
LIMITS = (3, 8, 10)
# From the server's yes to the settling, on a slow machine.
WINDOW_S = 2.0


def pool_process(worker: RunningChild) -> int | None:
    """The process that does the work, a child of the worker's first process."""
    assert worker.process is not None
    pid = worker.process.pid
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return int(children[0]) if children else None


def kill_something(scene: Scene, workers: list[RunningChild], number: int, whole: bool) -> bool:
    """The process that sends, or the whole worker, which is then started again; false if it was not there."""
    if whole:
        scene.kill(workers[number])
        workers[number] = scene.worker(f"worker-{number}", wait=False)
        return True
    pid = pool_process(workers[number])
    if pid is None:
        return False
    os.kill(pid, signal.SIGKILL)
    return True


def test_fifty_kills_lose_nothing(make_scene, post: Post, database: str, fault_line) -> None:
    chance = random.Random(SEED)
    scene: Scene = make_scene(limits=LIMITS)
    count = scene.run_script("seed", PEOPLE, EACH)
    workers = [scene.worker(f"worker-{number}") for number in range(WORKERS)]
    kills_at_s: list[float] = []
    while (killed := len(kills_at_s)) < KILLS:
        # Spread over the work: the next one when the server has taken its share of the mails.
        share = PEOPLE * killed // KILLS
        scene.until(lambda share=share: scene.wake() or len(post.taken) >= share, f"{share} mails are out")
        time.sleep(chance.uniform(0, 0.02))
        if kill_something(scene, workers, chance.randrange(WORKERS), whole=chance.random() < 0.1):
            kills_at_s.append(time.monotonic())
    scene.until_all_sent(count)
    found = deliveries(post)
    fault_line("4 workers, killed at random", database, count, KILLS, count - len(found), doubled(post))
    assert len(found) == count
    assert every_repeat_has_a_kill(post, kills_at_s)


def every_repeat_has_a_kill(post: Post, kills_at_s: list[float]) -> bool:
    """Whether each mail that came again had first come just before a kill of its own."""
    unused = list(kills_at_s)
    arrivals: dict[str, list[float]] = defaultdict(list)
    for message, at_s in zip(post.taken, post.taken_at_s, strict=True):
        arrivals[str(message["Message-ID"])].append(at_s)
    for times_s in arrivals.values():
        for at_s in times_s[:-1]:
            kill = next((kill for kill in unused if at_s <= kill <= at_s + WINDOW_S), None)
            if kill is None:
                return False
            unused.remove(kill)
    return True
