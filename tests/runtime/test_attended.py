"""Frames, commands, the camera's conditions and ticks in one order."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest

from posewatch.core.camera_watch import NEAR, Glimpse
from posewatch.core.clock_watch import Clocks
from posewatch.core.landmark_codec import decode, nobody
from posewatch.core.records import (
    CAMERA,
    CLOCK,
    DISK,
    NS_PER_S,
    Command,
    CommandKind,
    Frame,
    Input,
    Seen,
    SourceCondition,
    SourceState,
    Tick,
)
from posewatch.errors import PosewatchError
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
        self.slept_ns = 0
        self.stepped_ns = 0

    def now_ns(self) -> int:
        return self.t_ns

    monotonic_ns = now_ns

    def glimpse(self) -> Glimpse:
        return Glimpse(self.last_ns, None, 0.5, 30.0, "")

    def clocks(self) -> Clocks:
        """Session time is that of the clock that runs on in sleep."""
        return Clocks(self.t_ns, self.t_ns - self.slept_ns, self.t_ns + self.stepped_ns)

    def sleep(self, s: float) -> None:
        self.slept_ns += round(s * NS_PER_S)
        self.t_ns += round(s * NS_PER_S)

    def clock(self) -> LiveClock:
        return LiveClock(self.now_ns, self.glimpse, NEAR, self.clocks)


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


def ridden(camera: Camera, n: int = 60) -> Iterator[Seen | None]:
    """So many pictures, each taken when it is asked for."""
    for _ in range(n):
        camera.t_ns += STEP_NS
        camera.last_ns = camera.t_ns
        yield frame(camera.t_ns)


@pytest.mark.parametrize("stepped_s", [3600, -3600])
def test_a_step_of_the_wall_clock_is_told_once_and_is_no_gap(
    camera: Camera, stepped_s: int
) -> None:
    def items() -> Iterator[Seen | None]:
        yield from ridden(camera)
        camera.stepped_ns = stepped_s * NS_PER_S
        yield from ridden(camera)

    out = list(attended(items(), Controls(), threading.Event(), camera.clock()))
    told = [one for one in out if not isinstance(one, Frame)]
    assert [(one.source, one.condition) for one in told if isinstance(one, SourceState)] == [
        (CLOCK, SourceCondition.STEPPED)
    ]
    assert len(told) == 1
    assert told[0].t_ns == 61 * STEP_NS
    assert [one.t_ns for one in out if isinstance(one, Frame)] == [
        (n + 1) * STEP_NS for n in range(120)
    ]


def test_a_sleep_loses_the_camera_before_the_next_picture_until_it_has_proved_to_run(
    camera: Camera,
) -> None:
    def items() -> Iterator[Seen | None]:
        yield from ridden(camera)
        camera.sleep(600.0)
        yield from ridden(camera)

    out = list(attended(items(), Controls(), threading.Event(), camera.clock()))
    told = [(n, one) for n, one in enumerate(out) if isinstance(one, SourceState)]
    (lost_at, lost), (back_at, back) = told
    assert (lost.source, lost.condition) == (CAMERA, SourceCondition.LOST)
    assert lost.text.startswith("This computer slept for 10 min.")
    assert lost.t_ns == 60 * STEP_NS
    assert isinstance(out[lost_at + 1], Frame)
    assert out[lost_at + 1].t_ns == 61 * STEP_NS + 600 * NS_PER_S
    assert (back.source, back.condition) == (CAMERA, SourceCondition.RUNNING)
    assert back.t_ns - out[lost_at + 1].t_ns == pytest.approx(NS_PER_S, abs=STEP_NS)
    assert back_at > lost_at


def test_clocks_are_not_looked_at_beside_a_clip() -> None:
    """A clip's time is not this machine's; whatever its clocks do, its frames come as they are."""
    out = list(attended([frame(0), frame(1)], Controls(), threading.Event(), None))
    assert [type(one) for one in out] == [Frame, Frame]


class FillingDrive:
    """Room that is little at the third look and gone at the fifth."""

    def __init__(self) -> None:
        self.looks = 0

    def told(self, t_ns: int) -> Iterator[SourceState]:
        self.looks += 1
        if self.looks == 3:
            yield SourceState(t_ns, DISK, SourceCondition.LITTLE)
        if self.looks == 5:
            yield SourceState(t_ns, DISK, SourceCondition.FULL)
            raise FULL


FULL = PosewatchError("The watch was ended.", "Free some room.")


def test_a_drive_that_fills_is_told_and_ends_it() -> None:
    out: list[Input] = []

    def consume() -> None:
        items = [frame(n * STEP_NS) for n in range(10)]
        out.extend(attended(items, Controls(), threading.Event(), None, beside=[FillingDrive()]))

    with pytest.raises(PosewatchError, match="The watch was ended"):
        consume()
    assert [type(one) for one in out] == [Frame, Frame, SourceState, Frame, Frame, SourceState]
