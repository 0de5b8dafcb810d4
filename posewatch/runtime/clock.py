"""The clocks of this machine; only the shell reads them."""

from __future__ import annotations

import threading
import time


def monotonic_ns() -> int:
    """Return a clock that never steps, ns from an arbitrary start."""
    return time.monotonic_ns()


def wall_ns() -> int:
    """Return the wall clock, ns since 1970-01-01 UTC; good for dates, not for durations."""
    return time.time_ns()


def wait_until(due_ns: int, stop: threading.Event) -> bool:
    """Wait for a moment of :func:`monotonic_ns`; False = stopped before."""
    left_s = (due_ns - time.monotonic_ns()) / 1e9
    return not (stop.wait(left_s) if left_s > 0 else stop.is_set())
