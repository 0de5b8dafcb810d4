"""How well the loop keeps up: rates, ages, and how long its stages take."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from posewatch.runtime import clock

#: Figures are over the last so many pictures: about ten seconds.
KEPT = 300
RATE_OVER_NS = 2_000_000_000


@dataclass(frozen=True, slots=True)
class Stage:
    """How long one stage took lately, ms; NaN = not yet."""

    p50_ms: float
    p95_ms: float


@dataclass(frozen=True, slots=True)
class Health:
    """How the loop does.

    rate_hz: moments handled a second, over the last two. model: the pose model a picture. paint:
    from the grab of a picture to the end of the paint that shows it. overtaken: pictures that a
    newer one replaced. log_lag: entries that wait for the writer. log_age_s: since the last
    commit, NaN = nothing is logged. disk_free_bytes: -1 = not known.
    """

    rate_hz: float
    n_handled: int
    overtaken: int
    model: Stage
    paint: Stage
    log_lag: int
    log_age_s: float
    disk_free_bytes: int


class WaitingLog(Protocol):
    """What a log on another thread tells of itself."""

    committed_ns: int

    @property
    def n_waiting(self) -> int: ...


class HealthMeter:
    """Takes figures from any thread, and gives them as :class:`Health` to any other."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._handled_ns: deque[int] = deque(maxlen=KEPT)
        self._ms: dict[str, deque[float]] = {
            name: deque(maxlen=KEPT) for name in ("model", "paint")
        }
        self._n_handled = 0
        self.overtaken = 0
        self.log_lag = 0
        self.committed_ns = 0
        self.disk_free_bytes = -1

    def handled(self) -> None:
        """One moment went through the pipeline."""
        with self._lock:
            self._n_handled += 1
            self._handled_ns.append(clock.monotonic_ns())

    def took(self, stage: str, ns: int) -> None:
        """Note how long a stage ("model", "paint") took."""
        with self._lock:
            self._ms[stage].append(ns / 1e6)

    def note_log(self, log: WaitingLog | None, lost: Callable[[], Mapping[str, int]]) -> None:
        """Note how far the log is behind, None = there is none, and what did not come through."""
        self.overtaken = sum(lost().values())
        if log is not None:
            self.log_lag, self.committed_ns = log.n_waiting, log.committed_ns

    @contextmanager
    def timing(self, stage: str) -> Iterator[None]:
        """Note how long the block takes."""
        begun_ns = clock.monotonic_ns()
        yield
        self.took(stage, clock.monotonic_ns() - begun_ns)

    def read(self) -> Health:
        """Return how the loop does now."""
        now_ns = clock.monotonic_ns()
        with self._lock:
            recent = sum(now_ns - t_ns <= RATE_OVER_NS for t_ns in self._handled_ns)
            stages = {name: _stage(list(values)) for name, values in self._ms.items()}
            n_handled = self._n_handled
        age_s = (now_ns - self.committed_ns) / 1e9 if self.committed_ns else float("nan")
        return Health(
            recent / (RATE_OVER_NS / 1e9),
            n_handled,
            self.overtaken,
            stages["model"],
            stages["paint"],
            self.log_lag,
            age_s,
            self.disk_free_bytes,
        )


def _stage(values_ms: list[float]) -> Stage:
    if not values_ms:
        return Stage(float("nan"), float("nan"))
    p50, p95 = np.percentile(values_ms, (50, 95))
    return Stage(float(p50), float(p95))
