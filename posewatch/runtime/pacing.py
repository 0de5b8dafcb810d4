"""Recorded frames at the pace at which they were filmed."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Iterator

from posewatch.core.records import Seen
from posewatch.runtime import clock


def paced(frames: Iterable[Seen], stop: threading.Event) -> Iterator[Seen]:
    """Give each frame at its own time from the first one asked for; stop ends it early."""
    begun_ns = clock.monotonic_ns()
    for item in frames:
        if not clock.wait_until(begun_ns + item.t_ns, stop):
            return
        yield item
