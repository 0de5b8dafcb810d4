"""Time on a visit's clock."""

from __future__ import annotations

from posewatch.core.clock_watch import Jump, between
from posewatch.core.timebase import to_ns
from posewatch.runtime import clock


class VisitClock:
    """Time on a visit's clock, which runs on while the program is closed.

    Args:
        t_ns: the visit's time now.
        fast: waits are passed over: trials are ridden faster than life, or rehearsed.
    """

    def __init__(self, t_ns: int, fast: bool) -> None:
        self.fast = fast
        self._zero_ns = clock.monotonic_ns() - t_ns
        self._looked = clock.clocks()

    @property
    def now_ns(self) -> int:
        """The time."""
        return clock.monotonic_ns() - self._zero_ns

    def pass_over(self, seconds: float) -> None:
        """Let time pass without waiting for it; only where waits are passed over."""
        if not self.fast:
            raise RuntimeError("time is not passed over where what is ridden counts")
        self._zero_ns -= to_ns(seconds)

    def jump(self) -> Jump:
        """Return what became of the clocks since the last look: mostly nothing."""
        before, self._looked = self._looked, clock.clocks()
        return between(before, self._looked)
