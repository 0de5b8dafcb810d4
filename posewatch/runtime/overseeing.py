"""Looking on while a source is read: its last pictures, how long the model takes, and its end."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

from posewatch.core.records import Frame
from posewatch.core.sources import PoseEstimator, TimedPicture
from posewatch.runtime import clock
from posewatch.runtime.health import HealthMeter

#: Pictures kept until their landmarks have gone through the pipeline.
PICTURES_KEPT = 8


@dataclass(slots=True)
class RecentPictures:
    """The last pictures that a pose model was given, and when they were grabbed."""

    _kept: deque[tuple[TimedPicture, int]] = field(
        default_factory=lambda: deque(maxlen=PICTURES_KEPT)
    )
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def add(self, picture: TimedPicture, grabbed_ns: int) -> None:
        """Keep a picture for a while. grabbed_ns: monotonic clock, 0 = not known."""
        with self._lock:
            self._kept.append((picture, grabbed_ns))

    def at(self, t_ns: int) -> tuple[TimedPicture | None, int]:
        """Return the picture of a time and when it was grabbed; None, 0 = not kept."""
        with self._lock:
            for picture, grabbed_ns in reversed(self._kept):
                if picture.t_ns == t_ns:
                    return picture, grabbed_ns
        return None, 0


@dataclass(frozen=True, slots=True)
class Oversight:
    """What somebody who looks on wants of an open source besides its frames.

    stop: gives up opening it. poll_s: how long a wait for a frame may be.
    """

    stop: threading.Event
    pictures: RecentPictures
    health: HealthMeter
    poll_s: float


class Overseen:
    """An estimator that is looked at while it works; a ``PoseEstimator`` of another one.

    Args:
        estimator: the one at work.
        oversight: learns how long it takes, and keeps its pictures.
        now_ns: the time on the pictures' clock; None = they are read as fast as they are used.
    """

    def __init__(
        self, estimator: PoseEstimator, oversight: Oversight, now_ns: Callable[[], int] | None
    ) -> None:
        self.model = estimator.model
        self._estimator = estimator
        self._oversight = oversight
        self._now_ns = now_ns

    def detect(self, picture: TimedPicture) -> Frame:
        """Return what the estimator finds."""
        grabbed_ns = 0
        if self._now_ns is not None:
            grabbed_ns = clock.monotonic_ns() - (self._now_ns() - picture.t_ns)
        self._oversight.pictures.add(picture, grabbed_ns)
        with self._oversight.health.timing("model"):
            return self._estimator.detect(picture)

    def close(self) -> None:
        """Close the estimator."""
        self._estimator.close()
