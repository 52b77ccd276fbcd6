"""Results kept in this process: made once, even when several threads ask for the same at the same time."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

T = TypeVar("T")


class Kept(Generic[T]):
    """The last results by key, the least recently used forgotten first.

    most_size: of everything kept together, in whatever unit `size` gives (1 for each unless given). A result
    that alone is larger is handed out and not kept.
    """

    def __init__(self, most_size: int, size: Callable[[T], int] = lambda result: 1) -> None:
        self._most, self._size_of = most_size, size
        self._lock = threading.Lock()
        self._results: OrderedDict[Hashable, T] = OrderedDict()
        self._being_made: dict[Hashable, threading.Event] = {}
        self._size = 0

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """The result for `key`, made by `make` if it is not here; others who ask meanwhile wait for it.

        What `make` raises goes to the one who called it; one of those who waited then tries again.
        """
        while True:
            with self._lock:
                if key in self._results:
                    self._results.move_to_end(key)
                    return self._results[key]
                made = self._being_made.get(key)
                if made is None:
                    self._being_made[key] = threading.Event()
                    break
            made.wait()
        try:
            result = make()
            with self._lock:
                self._keep(key, result)
            return result
        finally:
            with self._lock:
                self._being_made.pop(key).set()

    def forget(self) -> None:
        """Forget everything that is kept."""
        with self._lock:
            self._results.clear()
            self._size = 0

    def _keep(self, key: Hashable, result: T) -> None:
        size = self._size_of(result)
        if size > self._most:
            return
        self._results[key] = result
        self._size += size
        while self._size > self._most:
            _, oldest = self._results.popitem(last=False)
            self._size -= self._size_of(oldest)
