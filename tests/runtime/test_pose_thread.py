"""Frames found on the thread ``pose``."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from made_landmarks import INFO, MODEL

from posewatch.core.landmark_codec import decode, nobody
from posewatch.core.records import Frame
from posewatch.errors import BadInput
from posewatch.runtime.pose_thread import PosedFrames


class MadeFrames:
    """Frames of nobody; notes which threads open, read and close it."""

    def __init__(self, n_frames: int, fail_at: int | None = None) -> None:
        self.info = INFO
        self.model = MODEL
        self.threads = [threading.current_thread().name]
        self._n_frames = n_frames
        self._fail_at = fail_at

    def __iter__(self) -> Iterator[Frame]:
        self.threads.append(threading.current_thread().name)
        for n in range(self._n_frames):
            if n == self._fail_at:
                raise BadInput("The picture cannot be read.", "Try another.")
            yield decode(n, nobody())

    def close(self) -> None:
        self.threads.append(threading.current_thread().name)


def test_every_frame_comes_in_order_and_one_thread_owns_the_model() -> None:
    made: list[MadeFrames] = []

    def open_made() -> MadeFrames:
        made.append(MadeFrames(50))
        return made[0]

    frames = PosedFrames(open_made)
    assert (frames.info, frames.model) == (INFO, MODEL)
    assert [frame.t_ns for frame in frames] == list(range(50))
    frames.close()
    assert made[0].threads == ["pose"] * 3


def test_an_error_comes_after_the_frames_before_it() -> None:
    frames = PosedFrames(lambda: MadeFrames(5, fail_at=3))
    taken = iter(frames)
    assert [next(taken).t_ns for _ in range(3)] == [0, 1, 2]
    with pytest.raises(BadInput, match="cannot be read"):
        next(taken)
    frames.close()


def test_closing_in_the_middle_ends_the_thread() -> None:
    frames = PosedFrames(lambda: MadeFrames(10_000))
    next(iter(frames))
    frames.close()
    frames.close()
    assert not any(thread.name == "pose" for thread in threading.enumerate())
