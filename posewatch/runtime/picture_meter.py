"""Measures of live pictures: their rate, their brightness, and whether they change at all."""

from __future__ import annotations

from collections import deque

import numpy as np

from posewatch.core.records import NS_PER_S
from posewatch.core.sources import Picture

RATE_OVER_NS = 2 * NS_PER_S
#: Over less than this, a rate says nothing.
RATE_OVER_LEAST_NS = NS_PER_S // 2
#: A step is taken over so many pictures: a busy machine stamps some late, and the next in time.
STRIDE = 5
#: Of a picture, about so many rows, and columns at the same distance, are looked at: enough that a
#: moving rider or a sensor's noise changes some, and 20 times cheaper than all.
ROWS = 60


def usual_rate_hz(times_ns: list[int]) -> float:
    """Return 1 / the median step of a source's first pictures, from the later half of their time.

    The earlier half may be a burst that a stream kept while it was opened, or a webcam's first
    pictures, which come unevenly.

    Args:
        times_ns: two or more, rising.
    """
    times = np.asarray(times_ns, np.int64)
    later = times[2 * times >= times[0] + times[-1]]
    if len(later) < 2:
        later = times
    stride = STRIDE if len(later) > 2 * STRIDE else 1
    return NS_PER_S * stride / float(np.median(later[stride:] - later[:-stride]))


class PictureMeter:
    """Takes pictures in the order of their times; any clock.

    Attributes:
        same_since_ns: the first of the latest pictures that are alike to the byte; None = the
            latest is not as the one before.
        brightness: mean of the latest, 0 to 1.
    """

    def __init__(self) -> None:
        self.same_since_ns: int | None = None
        self.brightness = 0.0
        self._sample = b""
        self._times_ns: deque[int] = deque()

    @property
    def rate_hz(self) -> float:
        """Pictures a second over the last two; NaN = too few yet."""
        times = self._times_ns
        over_ns = times[-1] - times[0] if times else 0
        return (len(times) - 1) * NS_PER_S / over_ns if over_ns >= RATE_OVER_LEAST_NS else np.nan

    def take(self, t_ns: int, rgb: Picture) -> None:
        """Take in a picture."""
        if self._times_ns and self.same_since_ns is None:
            self.same_since_ns = self._times_ns[-1]
        every = max(1, rgb.shape[0] // ROWS)
        sample = rgb[::every, ::every].tobytes()
        if sample != self._sample:
            self.same_since_ns = None
        self._sample = sample
        self.brightness = float(np.frombuffer(sample, np.uint8).mean()) / 255.0
        self._times_ns.append(t_ns)
        while self._times_ns[0] < t_ns - RATE_OVER_NS:
            self._times_ns.popleft()

    def begin_anew(self) -> None:
        """Forget the rate: there was a gap that is none of the camera's pace."""
        self._times_ns.clear()
