"""The video on its own thread: nothing that happens there is ever waited for or raised."""

from __future__ import annotations

import errno
import threading
from collections.abc import Callable

import numpy as np
import pytest
from made_bodies import nobody

from posewatch.core.disk_room import LITTLE_BYTES
from posewatch.core.records import VIDEO, Frame, SourceCondition, SourceState, Tick
from posewatch.core.sources import TimedPicture
from posewatch.core.video_use import VideoUse
from posewatch.errors import PosewatchError
from posewatch.runtime import video_thread
from posewatch.runtime.health import HealthMeter
from posewatch.runtime.overseeing import RecentPictures
from posewatch.runtime.video_thread import WAITING, VideoThread

USE = VideoUse("video v1 agreed to by r17", True)
LONG_S = 20.0


class Kept:
    """A file that remembers, and waits or fails where it is told to."""

    def __init__(self, fail_at: int | None = None, fail: Exception | None = None) -> None:
        self.times_ns: list[int] = []
        self.threads: set[str] = set()
        self.n_closed = 0
        self.opened, self.go_on, self.written = (threading.Event() for _ in range(3))
        self.go_on.set()
        self._fail_at, self._fail = fail_at, fail

    def open(self) -> Kept:
        self.opened.set()
        return self

    def add(self, picture: TimedPicture, frame: Frame) -> None:
        assert picture.t_ns == frame.t_ns
        assert self.go_on.wait(LONG_S)
        if self._fail is not None and picture.t_ns == self._fail_at:
            raise self._fail
        self.times_ns.append(picture.t_ns)
        self.threads.add(threading.current_thread().name)
        self.written.set()

    def close(self) -> None:
        self.n_closed += 1


class Watch:
    """Pictures that were handled, one after the other, and the video of them."""

    def __init__(self, open_file: Callable[[], Kept]) -> None:
        self.pictures, self.health = RecentPictures(), HealthMeter()
        self.video = VideoThread(open_file, USE, self.pictures, self.health)

    def handle(self, t_ns: int) -> None:
        self.pictures.add(TimedPicture(t_ns, np.zeros((4, 4, 3), np.uint8)), 0)
        self.video.seen(nobody(t_ns))

    def told(self, t_ns: int = 0) -> list[SourceState]:
        return list(self.video.told(t_ns))

    def wait_for(self, condition: SourceCondition) -> SourceState:
        """Ask until something is told."""
        until = threading.Event()
        for _ in range(2000):
            for state in self.told(9):
                if state.condition is condition:
                    return state
            until.wait(0.01)
        raise AssertionError(f"never told: {condition}")


def test_pictures_are_written_in_order_on_the_thread_and_the_file_is_closed() -> None:
    file = Kept()
    watch = Watch(file.open)
    with watch.video:
        for t_ns in range(5):
            watch.handle(t_ns)
        watch.video.seen(Tick(7))
    assert file.times_ns == [0, 1, 2, 3, 4]
    assert file.threads == {"video"}
    assert file.n_closed == 1
    assert watch.video.n_left_out == 0


def test_that_it_is_kept_is_told_once() -> None:
    file = Kept()
    watch = Watch(file.open)
    with watch.video:
        state = watch.wait_for(SourceCondition.RUNNING)
        assert (state.source, state.text) == (VIDEO, "Video is being kept, faces blurred.")
        assert watch.told() == []


def test_a_slow_drive_leaves_out_the_newest_and_keeps_nobody_waiting() -> None:
    file = Kept()
    file.go_on.clear()
    watch = Watch(file.open)
    with watch.video:
        assert file.opened.wait(LONG_S)
        for t_ns in range(WAITING + 10):
            watch.handle(t_ns)
        # The thread may have one in its hand already.
        assert watch.video.n_left_out in (9, 10)
        told = watch.told(5)
        assert [one.condition for one in told][-1] is SourceCondition.SLOW
        assert watch.told(6) == []
        file.go_on.set()
    n_kept = WAITING + 10 - watch.video.n_left_out
    assert file.times_ns == list(range(n_kept))


def test_a_picture_that_is_not_there_any_more_is_left_out() -> None:
    watch = Watch(Kept().open)
    with watch.video:
        watch.video.seen(nobody(3))
    assert watch.video.n_left_out == 1


@pytest.mark.parametrize(
    ("fail", "says"),
    [
        (PosewatchError("It does not grow.", "Look."), "It does not grow. The watch goes on."),
        (OSError(errno.ENOSPC, "No space left"), "it cannot be written (No space left)."),
        (ValueError("odd"), "it failed (ValueError)."),
    ],
)
def test_a_failure_is_told_once_and_never_raised(fail: Exception, says: str) -> None:
    file = Kept(2, fail)
    watch = Watch(file.open)
    with watch.video:
        for t_ns in range(4):
            watch.handle(t_ns)
        state = watch.wait_for(SourceCondition.LOST)
        assert says in state.text
        n_left_out = watch.video.n_left_out
        watch.handle(5)
        assert watch.told() == []
    assert file.times_ns == [0, 1]
    assert file.n_closed == 1
    assert watch.video.n_left_out == n_left_out


def test_a_video_that_cannot_be_begun_is_told_too() -> None:
    def cannot() -> Kept:
        raise PosewatchError("It cannot be written as a video.", "Watch without.")

    watch = Watch(cannot)
    with watch.video:
        assert "cannot be written as a video" in watch.wait_for(SourceCondition.LOST).text


def test_a_failure_at_the_end_is_not_raised_either() -> None:
    watch = Watch(Kept(1, ValueError("odd")).open)
    with watch.video:
        watch.handle(0)
        watch.handle(1)


def test_the_video_ends_where_the_record_needs_the_room() -> None:
    file = Kept()
    watch = Watch(file.open)
    with watch.video:
        watch.handle(0)
        watch.health.disk_free_bytes = LITTLE_BYTES
        assert all(one.condition is SourceCondition.RUNNING for one in watch.told())
        watch.health.disk_free_bytes = LITTLE_BYTES - 1
        state = watch.wait_for(SourceCondition.FULL)
        assert "only 500 MB are left on its drive" in state.text
        watch.handle(1)
        assert watch.told() == []
    assert file.times_ns == [0]
    assert watch.video.n_left_out == 0


def test_a_drive_that_does_not_answer_is_left_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(video_thread, "CLOSE_S", 0.05)
    file = Kept()
    file.go_on.clear()
    watch = Watch(file.open)
    with watch.video:
        watch.handle(0)
    assert file.times_ns == []
    file.go_on.set()
    assert file.written.wait(LONG_S)
