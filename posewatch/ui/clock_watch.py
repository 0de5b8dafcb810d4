"""Is the wall clock steady? Held against the monotonic one. Without Qt."""

from __future__ import annotations

import math
from collections.abc import Callable

from posewatch.core.readiness import CLOCK_STEP_S
from posewatch.core.records import NS_PER_S
from posewatch.runtime import clock

#: A wall clock that stayed with the monotonic one for so long is steady.
WATCHED_NS = 10 * NS_PER_S


class ClockWatch:
    """Follows the wall clock. wall_ns: reads it, ns since 1970-01-01 UTC."""

    def __init__(self, wall_ns: Callable[[], int] = clock.wall_ns) -> None:
        self._wall_ns = wall_ns
        self._start: tuple[int, int] | None = None

    def step_s(self, now_ns: int) -> float:
        """Return by how much it went other than the monotonic clock, NaN = too early to say.

        now_ns: the monotonic clock.
        """
        wall_ns = self._wall_ns()
        if self._start is None:
            self._start = (now_ns, wall_ns)
        since_ns, since_wall_ns = self._start
        step_s = ((wall_ns - since_wall_ns) - (now_ns - since_ns)) / NS_PER_S
        if now_ns - since_ns < WATCHED_NS and abs(step_s) < CLOCK_STEP_S:
            return math.nan
        return step_s
