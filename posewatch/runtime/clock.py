"""The clocks of this machine; only the shell reads them."""

from __future__ import annotations

import sys
import threading
import time

from posewatch.core.clock_watch import Clocks

#: Clocks read one after the other belong to one moment if no more time than this lies between.
TOGETHER_NS = 1_000_000
TRIES = 5

# Which clock runs on while the machine sleeps, and which stands still, is another matter on every
# system; Python's own ``time.monotonic`` stands still on two of the three. Sources: Linux,
# clock_gettime(2); macOS, clock_gettime(3); Windows, "Acquiring high-resolution time stamps".
if sys.platform == "linux":

    def monotonic_ns() -> int:
        """Return a clock that never steps and runs on in sleep, ns from an arbitrary start."""
        return time.clock_gettime_ns(time.CLOCK_BOOTTIME)

    def awake_ns() -> int:
        """Return a clock that never steps and stands still in sleep, ns."""
        return time.clock_gettime_ns(time.CLOCK_MONOTONIC)

elif sys.platform == "darwin":

    def monotonic_ns() -> int:
        """Return a clock that never steps and runs on in sleep, ns from an arbitrary start."""
        return time.clock_gettime_ns(time.CLOCK_MONOTONIC_RAW)

    def awake_ns() -> int:
        """Return a clock that never steps and stands still in sleep, ns."""
        return time.clock_gettime_ns(time.CLOCK_UPTIME_RAW)

else:

    def monotonic_ns() -> int:
        """Return a clock that never steps and runs on in sleep, ns from an arbitrary start."""
        return time.perf_counter_ns()

    def awake_ns() -> int:
        """Return the same: here a sleep is only seen by what did not come meanwhile."""
        return time.perf_counter_ns()


def wall_ns() -> int:
    """Return the wall clock, ns since 1970-01-01 UTC; good for dates, not for durations."""
    return time.time_ns()


def clocks() -> Clocks:
    """Return all of them at one moment, also where this program was kept waiting in between."""
    for _ in range(TRIES):
        found = Clocks(monotonic_ns(), awake_ns(), wall_ns())
        if monotonic_ns() - found.running_ns <= TOGETHER_NS:
            break
    return found


def wait_until(due_ns: int, stop: threading.Event) -> bool:
    """Wait for a moment of :func:`monotonic_ns`; False = stopped before."""
    left_s = (due_ns - monotonic_ns()) / 1e9
    return not (stop.wait(left_s) if left_s > 0 else stop.is_set())
