"""Recorded packets as a source like a live one: they come at their own times."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

from posewatch.core.sensor_source import SensorEvent


class ReplayedSensors:
    """A ``SensorSource`` of a recording.

    Whoever asks brings the time: by the wall clock it is paced, by the times of a clip's pictures
    it goes as fast as they do, and :attr:`end_ns` gives all at once.

    Args:
        events: in the order of their times, 0 = the beginning of the recording.

    Attributes:
        end_ns: time of the last one, 0 = there is none.
    """

    def __init__(self, events: Iterable[SensorEvent]) -> None:
        self._left = deque(events)
        self.end_ns = self._left[-1].t_ns if self._left else 0

    def begin(self, now_ns: int) -> list[SensorEvent]:
        """Start the session: return what the recording holds up to now."""
        return self.taken(now_ns)

    def taken(self, now_ns: int) -> list[SensorEvent]:
        """Take what is recorded up to now_ns."""
        taken: list[SensorEvent] = []
        while self._left and self._left[0].t_ns <= now_ns:
            taken.append(self._left.popleft())
        return taken

    def close(self) -> None:
        """Give nothing more."""
        self._left.clear()
