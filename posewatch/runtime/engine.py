"""One job at a time on the thread ``watch``: previewing, watching, capturing.

Whoever owns the engine starts and stops jobs and looks at what they show; a job is a function that
gets a :class:`Post` to report to. Nothing here knows what a job does.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from posewatch.core.capture_progress import CaptureProgress
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.outputs import Output
from posewatch.core.records import FloatArray, Input
from posewatch.core.sources import TimedPicture
from posewatch.core.standing import Standing
from posewatch.core.tracking import Tracked
from posewatch.runtime.controls import Controls
from posewatch.runtime.handover import Worker
from posewatch.runtime.health import HealthMeter
from posewatch.runtime.read_ahead import GaveUp

#: Outputs that a screen did not take; beyond this the oldest go, so that no screen fills memory.
MOST_SAID = 10_000


class EngineState(StrEnum):
    """Where the engine is."""

    STOPPED = "stopped"
    STARTING = "starting"
    RUNNING = "running"
    STOPPING = "stopping"
    FAULTED = "faulted"


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """One moment for the screens.

    picture: what was seen, None where only landmarks were read; its t_ns is the moment's.
    grabbed_ns: when it was grabbed, monotonic clock, 0 = not known. crosses_px: (k, 2) float64,
    image px, the near side's believed joints. standing: None while nothing is watched.
    """

    t_ns: int
    picture: TimedPicture | None
    grabbed_ns: int
    crosses_px: FloatArray
    tracked: Tracked | None
    standing: Standing | None


@dataclass(frozen=True, slots=True)
class Said:
    """What came out of one input, for the screens: in the order of the log."""

    item: Input
    outputs: tuple[Output, ...]


@dataclass(slots=True)
class Post:
    """A job's place: where it hears and reports. shown is the newest moment, None before one.

    progress: done and expected, of whatever the job counts; 0 expected = not known. chain: what
    makes the numbers, None before it is open. counted: what a capture has so far.
    """

    stop: threading.Event = field(default_factory=threading.Event)
    controls: Controls = field(default_factory=Controls)
    health: HealthMeter = field(default_factory=HealthMeter)
    shown: Shown | None = None
    progress: tuple[int, int] = (0, 0)
    chain: MeasuringChain | None = None
    counted: CaptureProgress | None = None
    said: deque[Said] = field(default_factory=lambda: deque(maxlen=MOST_SAID))
    ready: threading.Event = field(default_factory=threading.Event)

    def take_said(self) -> list[Said]:
        """Take what was said since the last time; for one thread."""
        taken = []
        while self.said:
            taken.append(self.said.popleft())
        return taken


class Engine:
    """Runs jobs, one at a time, each on a fresh thread ``watch``.

    A job calls ``post.ready.set()`` once everything is open, and returns soon after ``post.stop``
    is set. What it raises makes the engine FAULTED; what it returns is :attr:`result`.
    """

    def __init__(self) -> None:
        self.post = Post()
        self.name = ""
        self.result: Any = None
        self._worker: Worker | None = None

    @property
    def state(self) -> EngineState:
        """Where the engine is now."""
        worker = self._worker
        if worker is None:
            return EngineState.STOPPED
        if not worker.is_alive():
            return EngineState.STOPPED if worker.error is None else EngineState.FAULTED
        if self.post.stop.is_set():
            return EngineState.STOPPING
        return EngineState.RUNNING if self.post.ready.is_set() else EngineState.STARTING

    @property
    def error(self) -> BaseException | None:
        """What ended the last job, None = nothing did."""
        worker = self._worker
        return None if worker is None or worker.is_alive() else worker.error

    @property
    def is_busy(self) -> bool:
        """Whether a job is under way, be it starting or stopping."""
        return self._worker is not None and self._worker.is_alive()

    def start(self, name: str, job: Callable[[Post], Any]) -> Post:
        """Start a job; returns its post.

        Raises:
            RuntimeError: another one is under way.
        """
        if self.is_busy:
            raise RuntimeError(f"{self.name} is under way")
        post = self.post = Post()
        self.name, self.result = name, None

        def work() -> None:
            with suppress(GaveUp):  # stopped before it was open: that is no fault
                self.result = job(post)

        self._worker = Worker("watch", work)
        self._worker.start()
        return post

    def stop(self) -> None:
        """Ask the job to end; returns at once. Stopping twice, or nothing, is harmless."""
        self.post.stop.set()

    def wait(self, timeout_s: float | None = None) -> bool:
        """Wait for the job's end; False = it still goes on."""
        if self._worker is not None:
            self._worker.join(timeout_s)
        return not self.is_busy
