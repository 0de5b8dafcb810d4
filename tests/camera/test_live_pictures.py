"""Pictures of a camera read until it is stopped or gone."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from posewatch.camera.live_pictures import MISSED_READS, live_pictures
from posewatch.core.sources import StreamInfo, TimedPicture
from posewatch.errors import BadInput


class PlannedCamera:
    """Gives a picture, 5 ns after the read before, where the plan says so."""

    def __init__(self, plan: list[bool]) -> None:
        self.info = StreamInfo("planned", 6, 4, 30.0, 0)
        self._plan = iter(plan)
        self._now_ns = 1000

    def read(self) -> TimedPicture | None:
        self._now_ns += 5
        there = next(self._plan, False)
        return TimedPicture(self._now_ns, np.zeros((4, 6, 3), np.uint8)) if there else None

    def close(self) -> None:
        pass


def test_times_begin_at_the_first_picture() -> None:
    source = live_pictures(PlannedCamera([False, True, True, False, True]), threading.Event())
    assert [next(source).t_ns for _ in range(3)] == [0, 5, 15]


def test_it_ends_when_stopped_and_when_the_camera_is_gone() -> None:
    stop = threading.Event()
    source = live_pictures(PlannedCamera([True] * 9), stop)
    next(source)
    stop.set()
    assert list(source) == []
    gone = PlannedCamera([True, *[False] * (MISSED_READS - 1), True])
    seen: list[TimedPicture] = []
    with pytest.raises(BadInput, match="gives no more pictures"):
        seen.extend(live_pictures(gone, threading.Event()))
    assert len(seen) == 2
