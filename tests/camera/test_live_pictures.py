"""A camera by its number: its absence is explained, its pictures are stamped at the grab."""

from __future__ import annotations

import threading
from itertools import count
from typing import Any

import numpy as np
import pytest

from posewatch.camera.live_pictures import MISSED_READS, live_pictures, open_camera
from posewatch.errors import BadInput


class FakeCapture:
    """Gives a picture where the plan says so; blue in OpenCV's order."""

    def __init__(self, plan: list[bool]) -> None:
        self._plan = iter(plan)

    def grab(self) -> bool:
        return next(self._plan, False)

    def retrieve(self) -> tuple[bool, Any]:
        return True, np.full((4, 6, 3), (255, 0, 0), np.uint8)


def test_no_camera_is_a_good_error() -> None:
    with pytest.raises(BadInput, match="There is no camera 97 that can be opened"):
        open_camera(97)


def test_pictures_are_rgb_and_stamped_from_the_first() -> None:
    capture: Any = FakeCapture([False, True, True, False, True])
    ticks = count(1000, 5)
    source = live_pictures(capture, lambda: next(ticks), threading.Event())
    pictures = [next(source) for _ in range(3)]
    assert [picture.t_ns for picture in pictures] == [0, 5, 15]
    assert pictures[0].rgb[0, 0].tolist() == [0, 0, 255]


def test_it_ends_when_stopped_and_when_the_camera_is_gone() -> None:
    stop = threading.Event()
    capture: Any = FakeCapture([True] * 9)
    source = live_pictures(capture, lambda: 0, stop)
    next(source)
    stop.set()
    assert list(source) == []
    gone: Any = FakeCapture([True] + [False] * MISSED_READS)
    with pytest.raises(BadInput, match="gives no more pictures"):
        list(live_pictures(gone, lambda: 0, threading.Event()))
