"""The broker and the beat only wake: killed, emptied or doubled, they lose nothing and double nothing."""

from __future__ import annotations

import time

import pytest

from tests.faults.scene import Scene, deliveries, doubled
from tests.notices.smtp_server import Post

pytestmark = pytest.mark.faults

PEOPLE = 20


@pytest.fixture(params=["SQLite"])
def database(request) -> str:
    """The broker does not know the database; one is enough."""
    return str(request.param)


def once_each(post: Post, count: int) -> bool:
    return sorted(deliveries(post).values()) == [1] * count


def test_two_beats_by_mistake(scene: Scene, post: Post, database: str, fault_line) -> None:
    scene.run_script("seed", PEOPLE, 3)
    for name in ("one", "two"):
        scene.worker(f"worker-{name}")
        scene.beat(f"beat {name}")
    scene.until_all_sent(PEOPLE * 3, by_waking=False)
    time.sleep(2)  # four more beats of each
    fault_line("two beats", database, PEOPLE * 3, 1, PEOPLE * 3 - len(deliveries(post)), doubled(post))
    assert once_each(post, PEOPLE * 3)


def test_a_beat_that_is_killed(scene: Scene, post: Post, database: str, fault_line) -> None:
    scene.worker()
    first = scene.beat()
    scene.until(lambda: scene.rows("SELECT 1 FROM notices_heartbeat"), "the beat has been felt")
    scene.kill(first)
    scene.run_script("seed", PEOPLE, 1)
    time.sleep(2)
    assert scene.states() == {"waiting": PEOPLE}
    scene.beat()
    scene.until_all_sent(PEOPLE, by_waking=False)
    fault_line("beat killed", database, PEOPLE, 1, PEOPLE - len(deliveries(post)), doubled(post))
    assert once_each(post, PEOPLE)


@pytest.mark.parametrize("fault", ["stopped", "killed", "emptied"])
def test_a_redis_that_is(fault: str, scene: Scene, post: Post, database: str, fault_line) -> None:
    """While notices wait for it and a worker and a beat hold connections to it."""
    scene.worker()
    scene.beat()
    scene.until(lambda: scene.rows("SELECT 1 FROM notices_heartbeat"), "the beat has been felt")
    if fault == "emptied":
        scene.redis.empty()
    else:
        scene.redis.stop() if fault == "stopped" else scene.redis.kill()
    scene.run_script("seed", PEOPLE, 1)
    if fault != "emptied":
        time.sleep(1)
        assert scene.states() == {"waiting": PEOPLE}
        scene.redis.start()
    scene.until_all_sent(PEOPLE, by_waking=False)
    fault_line(
        f"Redis {fault} under a running worker and beat",
        database,
        PEOPLE,
        1,
        PEOPLE - len(deliveries(post)),
        doubled(post),
    )
    assert once_each(post, PEOPLE)
