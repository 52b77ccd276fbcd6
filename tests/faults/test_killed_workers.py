"""SIGKILL to a worker at each step of claim, send, settle: what the crash table of `outbox` says comes true."""

from __future__ import annotations

import time

import pytest

from tests.faults import stops
from tests.faults.scene import Scene, deliveries, doubled
from tests.notices.smtp_server import Post

pytestmark = pytest.mark.faults

# One person with two notices, so that a mail with company is what is killed.
NOTICES = 2
STEPS = {
    "connecting": "before the claim",
    "writing": "after claim and gathering, before the stamp",
    "sending": "after the stamp, before sending",
    "taken": "after the server took the mail, before settling",
    "settled": "after settling",
}


# What is asked of the database is the same on both; the two steps that lean on it most are tried on both.
ON_BOTH = ("writing", "taken")
WHERE = [
    pytest.param(step, name, marks=[pytest.mark.postgresql] if name == "PostgreSQL" else [])
    for step in STEPS
    for name in ("SQLite", "PostgreSQL")
    if name == "SQLite" or step in ON_BOTH
]
SQLITE = pytest.mark.parametrize("database", ["SQLite"])


@pytest.mark.parametrize(("step", "database"), WHERE)
def test_a_worker_killed_at(step: str, scene: Scene, post: Post, database: str, fault_line) -> None:
    scene.run_script("seed", 1, NOTICES)
    reached = stops.arm(scene.folder, step)
    first = scene.worker()
    scene.wake()
    scene.until(reached.exists, f"a worker came to {step}")
    scene.kill(first)
    scene.worker()
    scene.until_all_sent(NOTICES)
    found = deliveries(post)
    repeats = 2 if step == "taken" else 1
    fault_line(f"worker killed {STEPS[step]}", database, NOTICES, 1, NOTICES - len(found), doubled(post))
    assert list(found.values()) == [repeats] * NOTICES
    assert list(post.ids.values()) == [repeats]  # one mail, and a repeat has the same Message-ID


@SQLITE
def test_a_worker_killed_in_the_middle_of_the_conversation(
    scene: Scene, post: Post, database: str, fault_line
) -> None:
    scene.run_script("seed", 1, NOTICES)
    heard: list[str] = []

    def stall_once(step: str, _envelope: object) -> str | None:
        heard.append(step)
        return "stall 30" if heard == ["RCPT"] else None

    post.answer = stall_once
    first = scene.worker()
    scene.wake()
    scene.until(lambda: heard, "the server heard of the mail")
    scene.kill(first)
    scene.worker()
    scene.until_all_sent(NOTICES)
    found = deliveries(post)
    fault_line(
        "worker killed within the SMTP conversation",
        database,
        NOTICES,
        1,
        NOTICES - len(found),
        doubled(post),
    )
    assert list(found.values()) == [1] * NOTICES


@SQLITE
def test_a_run_that_hangs_is_ended_before_its_claim_lapses(
    scene: Scene, post: Post, database: str, fault_line
) -> None:
    """Nobody kills it here: the worker's own time limit does, and the lease outlasts that."""
    scene.run_script("seed", 1, NOTICES)
    reached = stops.arm(scene.folder, "sending")
    worker = scene.worker()
    scene.wake()
    scene.until(reached.exists, "a worker hangs")
    hung_at = time.monotonic()
    scene.until(lambda: "Hard time limit" in scene.log_of(worker), "the hanging run is killed")
    assert time.monotonic() - hung_at < scene.lease_s
    assert scene.states() == {"claimed": NOTICES}
    scene.until_all_sent(NOTICES)
    fault_line("run hangs for good", database, NOTICES, 1, NOTICES - len(deliveries(post)), doubled(post))
    assert list(deliveries(post).values()) == [1] * NOTICES
