"""A live camera that gives what a test feeds it, and a clock that stands still by itself."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable

import numpy as np
import pytest

from posewatch.core.sources import StreamInfo, TimedPicture
from posewatch.runtime import clock

STEP_NS = 40_000_000
#: More than are measured, over more than the least time.
MEASURED_NS = tuple(5_000_000_000 + STEP_NS * number for number in range(46))


class StandingClock:
    """Moves with the pictures that are read, and with what is waited for, at once.

    on_wait is called at the beginning of each wait.
    """

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now_ns = 1_000_000_000
        self.on_wait: Callable[[], None] = lambda: None
        self.waits_ns: list[int] = []
        monkeypatch.setattr(clock, "monotonic_ns", lambda: self.now_ns)
        monkeypatch.setattr(clock, "wait_until", self._wait_until)

    def _wait_until(self, due_ns: int, stop: threading.Event) -> bool:
        self.on_wait()
        self.waits_ns.append(due_ns - self.now_ns)
        self.now_ns = max(self.now_ns, due_ns)
        return not stop.is_set()


class FedCamera:
    """Reads wait for what :meth:`give` feeds: times, errors, None; after :meth:`end`, only None.

    A picture is of a shade that tells how many were given before, by any camera.
    """

    n_given = 0

    def __init__(
        self, time: StandingClock, times_ns: tuple[int, ...] = (), size: tuple[int, int] = (64, 48)
    ) -> None:
        self.info = StreamInfo("fed", *size, 1000.0, 0)
        self.threads: set[str] = set()
        self.n_closed = 0
        self._time = time
        self._fed: queue.SimpleQueue[TimedPicture | Exception | None] = queue.SimpleQueue()
        self._ended = threading.Event()
        self.give(*times_ns)

    def give(self, *items: int | Exception | None, shade: int | None = None) -> None:
        """Feed pictures at these times, errors, or reads that give nothing."""
        for item in items:
            if not isinstance(item, int):
                self._fed.put(item)
                continue
            FedCamera.n_given += 1
            level = FedCamera.n_given % 251 if shade is None else shade
            size = (self.info.height_px, self.info.width_px, 3)
            self._fed.put(TimedPicture(item, np.full(size, level, np.uint8)))

    def end(self) -> None:
        """Wait for nothing any more."""
        self._ended.set()
        self._fed.put(None)

    def read(self) -> TimedPicture | None:
        """Wait for the next item."""
        self.threads.add(threading.current_thread().name)
        item = None if self._ended.is_set() and self._fed.empty() else self._fed.get()
        if isinstance(item, Exception):
            raise item
        if item is not None:
            self._time.now_ns = max(self._time.now_ns, item.t_ns)
        return item

    def close(self) -> None:
        """Count how often it was closed."""
        self.threads.add(threading.current_thread().name)
        self.n_closed += 1
