"""Recorded frames at their own pace."""

from __future__ import annotations

import threading

import pytest

from posewatch.core.landmark_codec import decode, nobody
from posewatch.runtime import pacing
from posewatch.runtime.pacing import paced

FRAMES = [decode(n * 1_000_000, nobody()) for n in range(5)]


class Clock:
    """Notes until when it was asked to wait, and waits for nothing."""

    def __init__(self) -> None:
        self.due_ns: list[int] = []

    def monotonic_ns(self) -> int:
        return 1000

    def wait_until(self, due_ns: int, stop: threading.Event) -> bool:
        self.due_ns.append(due_ns)
        return not stop.is_set()


def test_each_frame_comes_at_its_time_from_the_first_asked_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    clock = Clock()
    monkeypatch.setattr(pacing, "clock", clock)
    assert list(paced(FRAMES, threading.Event())) == FRAMES
    assert clock.due_ns == [1000 + frame.t_ns for frame in FRAMES]


def test_stop_ends_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pacing, "clock", Clock())
    stop = threading.Event()
    taken = []
    for frame in paced(FRAMES, stop):
        taken.append(frame)
        stop.set()
    assert taken == FRAMES[:1]
