"""What is kept in memory: made once, bounded, failures not kept."""

from __future__ import annotations

import threading
import time

import pytest

from relays.coverage.kept import Kept


def test_it_is_made_once_for_all_who_ask_meanwhile() -> None:
    kept: Kept[int] = Kept(10)
    made: list[int] = []

    def make() -> int:
        time.sleep(0.05)
        made.append(1)
        return len(made)

    got: list[int] = []
    threads = [threading.Thread(target=lambda: got.append(kept.get("key", make))) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert got == [1] * 8


def test_different_keys_do_not_wait_for_each_other() -> None:
    kept: Kept[str] = Kept(10)
    slow = threading.Event()
    thread = threading.Thread(target=lambda: kept.get("slow", lambda: str(slow.wait(5))))
    thread.start()
    assert kept.get("quick", lambda: "here") == "here"
    slow.set()
    thread.join()


def test_the_least_recently_used_is_forgotten_first() -> None:
    kept: Kept[str] = Kept(2)
    for key in ("a", "b", "a", "c"):
        kept.get(key, lambda key=key: key)
    assert kept.get("a", lambda: "made again") == "a"
    assert kept.get("b", lambda: "made again") == "made again"


def test_size_counts_and_what_is_too_large_is_handed_out_all_the_same() -> None:
    kept: Kept[bytes] = Kept(100, len)
    assert len(kept.get("large", lambda: bytes(500))) == 500
    kept.get("small", lambda: bytes(60))
    kept.get("next", lambda: bytes(60))
    assert kept.get("small", lambda: b"again") == b"again"


def test_a_failure_is_not_kept() -> None:
    kept: Kept[int] = Kept(10)
    with pytest.raises(OSError, match="not now"):
        kept.get("key", lambda: (_ for _ in ()).throw(OSError("not now")))
    assert kept.get("key", lambda: 5) == 5
