"""Frames, commands, the camera's conditions and ticks in one order."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from posewatch.core.camera_watch import NEAR, Glimpse
from posewatch.core.landmark_codec import decode, nobody
from posewatch.core.records import (
    CAMERA,
    NS_PER_S,
    Command,
    CommandKind,
    Frame,
    Seen,
    SourceCondition,
    SourceState,
    Tick,
)
from posewatch.runtime import controls as controls_module
from posewatch.runtime.attended import LiveClock, attended
from posewatch.runtime.controls import Controls

STEP_NS = NS_PER_S // 30


def frame(t_ns: int) -> Frame:
    return decode(t_ns, nobody())


class Camera:
    """A live clock that is set by hand; its monotonic clock is the session's."""

    def __init__(self) -> None:
        self.t_ns = 0
        self.last_ns = 0

    def now_ns(self) -> int:
        return self.t_ns

    monotonic_ns = now_ns

    def glimpse(self) -> Glimpse:
        return Glimpse(self.last_ns, None, 0.5, 30.0, "")

    def clock(self) -> LiveClock:
        return LiveClock(self.now_ns, self.glimpse, NEAR)


@pytest.fixture
def camera(monkeypatch: pytest.MonkeyPatch) -> Camera:
    made = Camera()
    monkeypatch.setattr(controls_module, "clock", made)
    return made


def test_a_clips_frames_come_as_they_are_and_its_commands_at_the_last_ones_time() -> None:
    controls = Controls()

    def items() -> Iterator[Seen | None]:
        yield frame(0)
        yield frame(STEP_NS)
        controls.say(CommandKind.MARK, "here")
        yield None
        yield frame(2 * STEP_NS)

    out = list(attended(items(), controls, threading.Event(), None))
    assert [type(one) for one in out] == [Frame, Frame, Command, Frame]
    assert out[2].t_ns == STEP_NS


def test_a_live_command_waits_for_the_pictures_that_were_taken_before_it(camera: Camera) -> None:
    controls = Controls()

    def items() -> Iterator[Seen | None]:
        camera.t_ns = 3 * STEP_NS  # the model is two pictures behind
        yield frame(STEP_NS)
        controls.say(CommandKind.PAUSE)
        yield frame(2 * STEP_NS)
        yield frame(3 * STEP_NS)
        yield frame(4 * STEP_NS)

    out = list(attended(items(), controls, threading.Event(), camera.clock()))
    assert [one.t_ns // STEP_NS for one in out] == [1, 2, 3, 3, 4]
    assert [isinstance(one, Command) for one in out] == [False, False, True, False, False]


def test_a_live_command_comes_at_once_when_no_picture_does(camera: Camera) -> None:
    controls = Controls()
    controls.say(CommandKind.MARK)
    out = list(attended([None], controls, threading.Event(), camera.clock()))
    assert [type(one) for one in out] == [Command]


def test_a_camera_that_gives_nothing_is_lost_ticks_and_comes_back(camera: Camera) -> None:
    def items() -> Iterator[Seen | None]:
        for n in range(31):
            camera.t_ns = camera.last_ns = n * STEP_NS
            yield frame(camera.t_ns)
        for _ in range(20):  # two seconds without a picture
            camera.t_ns += NS_PER_S // 10
            yield None
        for _ in range(60):
            camera.t_ns += STEP_NS
            camera.last_ns = camera.t_ns
            yield frame(camera.t_ns)

    out = list(attended(items(), Controls(), threading.Event(), camera.clock()))
    told = [one for one in out if isinstance(one, SourceState)]
    assert [one.source for one in told] == [CAMERA] * len(told)
    assert told[0].condition is SourceCondition.LOST
    assert told[-1].condition is SourceCondition.RUNNING
    ticks = [one for one in out if isinstance(one, Tick)]
    assert 4 <= len(ticks) <= 10
    assert 30 * STEP_NS <= told[0].t_ns <= 1.7 * NS_PER_S


def test_a_condition_is_never_told_earlier_than_what_was_consumed(camera: Camera) -> None:
    def items() -> Iterator[Seen | None]:
        yield frame(0)
        camera.t_ns = 2 * NS_PER_S
        yield frame(2 * NS_PER_S)  # a picture that was on its way when the camera went
        yield None

    out = list(attended(items(), Controls(), threading.Event(), camera.clock()))
    times = [one.t_ns for one in out if not isinstance(one, Tick)]
    assert times == sorted(times)


def test_stop_ends_it_before_the_next_input() -> None:
    stop = threading.Event()
    taken = []
    for item in attended([frame(0), frame(1), frame(2)], Controls(), stop, None):
        taken.append(item)
        stop.set()
    assert len(taken) == 1
