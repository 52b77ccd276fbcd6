"""Many workers on one database, and a database that is locked or goes away."""

from __future__ import annotations

import sqlite3
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import psycopg
import pytest

from tests.faults.scene import Scene, deliveries, doubled
from tests.notices.smtp_server import Post

pytestmark = pytest.mark.faults

PROCESSES, THREADS = 2, 5  # ten workers
CUT_ALL = """
    SELECT pg_terminate_backend(pid) FROM pg_stat_activity
    WHERE datname = current_database() AND pid <> pg_backend_pid()
"""


def at_once(scene: Scene, *script: object) -> list:
    with ThreadPoolExecutor(PROCESSES) as pool:
        return list(pool.map(lambda _n: scene.run_script(*script), range(PROCESSES)))


def test_ten_workers_at_once_claim_each_notice_once(make_scene, database: str, fault_line) -> None:
    scene = make_scene(limits=(25, 300, 600))
    scene.run_script("seed", 100, 3)
    got = [key for process in at_once(scene, "claim", THREADS) for thread in process for key in thread]
    fault_line("ten workers claim at once", database, 300, 0, 300 - len(set(got)), len(got) - len(set(got)))
    assert len(got) == len(set(got)) == 300


def test_ten_planners_at_once_enter_each_notice_once(scene: Scene, database: str, fault_line) -> None:
    at_once(scene, "reconcile", THREADS, 50, 4)
    (count,) = scene.rows("SELECT count(*), count(DISTINCT key) FROM notices_notice")
    fault_line("ten planners top up at once", database, 200, 0, 200 - count[1], count[0] - count[1])
    assert count == (200, 200)


def test_ten_workers_at_once_report_a_failure_once(scene: Scene) -> None:
    scene.run_script("seed", 20, 1)
    assert scene.run_script("report", 10) == 1
    assert scene.rows("SELECT count(*) FROM notices_notice WHERE report_id IS NOT NULL") == [(20,)]


@pytest.mark.parametrize("database", ["SQLite"])
def test_a_locked_database_delays_and_does_not_double(
    scene: Scene, post: Post, database: str, fault_line
) -> None:
    """Somebody holds the write lock for three seconds while mail is on its way."""
    scene.run_script("seed", 60, 1)
    scene.worker()
    scene.wake()
    scene.until(lambda: post.taken, "the first mail has arrived")
    lock = sqlite3.connect(scene.database_url.removeprefix("sqlite:///"), timeout=20, isolation_level=None)
    lock.execute("BEGIN IMMEDIATE")
    time.sleep(1.5)
    lock.execute("ROLLBACK")
    lock.close()
    scene.until_all_sent(60)
    fault_line("database locked for 1.5 s", database, 60, 1, 60 - len(deliveries(post)), doubled(post))
    assert sorted(deliveries(post).values()) == [1] * 60


@pytest.mark.postgresql
@pytest.mark.parametrize("database", ["PostgreSQL"])
def test_a_database_restart_loses_and_doubles_nothing(
    scene: Scene, post: Post, database: str, fault_line
) -> None:
    """Every connection is cut, again and again, while mail is on its way, as a restart cuts them."""
    scene.run_script("seed", 200, 1)
    scene.worker("worker-one")
    scene.worker("worker-two")
    stop, cuts = threading.Event(), []

    def cut() -> None:
        with psycopg.connect(scene.database_url, autocommit=True) as connection:
            while not stop.wait(0.4):
                cuts.append(len(connection.execute(CUT_ALL).fetchall()))

    knife = threading.Thread(target=cut)
    knife.start()
    try:
        end = time.monotonic() + 6
        while time.monotonic() < end:
            scene.wake()
            time.sleep(0.2)
    finally:
        stop.set()
        knife.join()
    scene.until_all_sent(200)
    fault_line(
        "database connections cut", database, 200, sum(cuts), 200 - len(deliveries(post)), doubled(post)
    )
    assert sum(cuts) > 5
    assert sorted(deliveries(post).values()) == [1] * 200


@pytest.mark.postgresql
@pytest.mark.parametrize("database", ["PostgreSQL"])
def test_a_database_restart_just_before_settling_does_not_repeat_the_mail(
    scene: Scene, post: Post, database: str
) -> None:
    """The worker lives and knows that the mail is out: it goes on trying to say so."""
    scene.run_script("seed", 1, 1)
    post.delay_s = 0.6
    scene.worker()
    scene.wake()
    scene.until(lambda: post.taken, "the mail has arrived and its answer is under way")
    with psycopg.connect(scene.database_url, autocommit=True) as connection:
        connection.execute(CUT_ALL)
    scene.until(
        lambda: scene.states() == {"sent": 1}, "it is settled by the same worker", within_s=scene.lease_s
    )
    assert list(post.ids.values()) == [1]
