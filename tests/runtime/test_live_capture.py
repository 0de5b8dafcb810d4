"""A live camera on the capture thread: ready when measured, reopened when gone."""

from __future__ import annotations

import logging
import math
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from fed_camera import MEASURED_NS, STEP_NS, FedCamera, StandingClock

from posewatch.core.camera_watch import Glimpse
from posewatch.core.sources import LiveCamera, StreamInfo
from posewatch.errors import BadInput
from posewatch.runtime import live_capture
from posewatch.runtime.live_capture import LivePictures
from posewatch.runtime.read_ahead import GaveUp

LAST_NS = MEASURED_NS[-1]
S = 1_000_000_000


@pytest.fixture
def time(monkeypatch: pytest.MonkeyPatch) -> StandingClock:
    return StandingClock(monkeypatch)


class Shelf:
    """Opens one camera after the other; an error where there is one instead."""

    def __init__(self, *cameras: FedCamera | Exception) -> None:
        self.cameras = list(cameras)
        self.n_opened = 0
        self.all_opened = threading.Event()

    def __call__(self) -> LiveCamera:
        camera = self.cameras[min(self.n_opened, len(self.cameras) - 1)]
        self.n_opened += 1
        if self.n_opened >= len(self.cameras):
            self.all_opened.set()
        if isinstance(camera, Exception):
            raise camera
        return camera


@contextmanager
def live(*cameras: FedCamera | Exception) -> Iterator[tuple[LivePictures, Shelf]]:
    """Open live pictures of these cameras, and close them at the end."""
    shelf = Shelf(*cameras)
    pictures = LivePictures(shelf)
    try:
        yield pictures, shelf
    finally:
        pictures._stop.set()
        for camera in cameras:
            if isinstance(camera, FedCamera):
                camera.end()
        pictures.close()
        assert not pictures.left_behind


def wait_for(condition: Callable[[], bool]) -> None:
    """Wait until something that the thread does is done."""
    never = threading.Event()
    for _ in range(2000):
        if condition():
            return
        never.wait(0.005)
    raise AssertionError("it did not happen")


def test_it_is_ready_once_the_rate_is_measured(time: StandingClock) -> None:
    camera = FedCamera(time, MEASURED_NS)
    with live(camera) as (pictures, _):
        info = pictures.info
        assert (info.name, info.width_px, info.height_px) == ("fed", 64, 48)
        assert info.rate_hz == pytest.approx(25.0), "from the pictures' times, not what is claimed"
        assert info.n_frames == 0
        assert pictures.glimpse().usual_hz == info.rate_hz
    assert camera.threads == {"capture"}
    assert camera.n_closed == 1


def test_the_clock_begins_with_the_newest_picture_when_the_first_is_asked_for(
    time: StandingClock,
) -> None:
    camera = FedCamera(time, MEASURED_NS)
    with live(camera) as (pictures, _):
        camera.give(LAST_NS + STEP_NS, LAST_NS + 2 * STEP_NS)
        wait_for(lambda: time.now_ns == LAST_NS + 2 * STEP_NS)
        assert (pictures.now_ns(), pictures.glimpse().last_ns) == (0, 0)
        taken = iter(pictures)
        assert next(taken).t_ns == 0
        assert pictures.n_overwritten == 0, "what came before anybody asked is not overtaken"
        camera.give(LAST_NS + 3 * STEP_NS)
        second = next(taken)
        assert second.t_ns == STEP_NS
        camera.give(LAST_NS + 4 * STEP_NS)
        assert next(taken).t_ns == 2 * STEP_NS
        time.now_ns += 7
        assert pictures.now_ns() == 2 * STEP_NS + 7
        assert pictures.glimpse().last_ns == 2 * STEP_NS


def test_the_newest_win_and_what_does_not_rise_is_dropped(time: StandingClock) -> None:
    camera = FedCamera(time, MEASURED_NS)
    with live(camera) as (pictures, _):
        taken = iter(pictures)
        assert next(taken).t_ns == 0
        end_ns = LAST_NS + 9 * STEP_NS
        for number in (1, 2, 2, 1, 3, 4):
            camera.give(LAST_NS + number * STEP_NS)
        camera.give(end_ns)
        wait_for(lambda: pictures.glimpse().last_ns == end_ns - LAST_NS)
        assert next(taken).t_ns == 9 * STEP_NS
        assert pictures.n_overwritten == 4
        assert pictures.n_dropped_times == 2


def test_a_glimpse_tells_the_pictures_measures(time: StandingClock) -> None:
    camera = FedCamera(time, MEASURED_NS)
    with live(camera) as (pictures, _):
        next(iter(pictures))
        glimpse = pictures.glimpse()
        assert (glimpse.why, glimpse.same_since_ns, glimpse.retry_ns) == ("", None, None)
        assert glimpse.rate_hz == pytest.approx(25.0)
        camera.give(*(LAST_NS + number * STEP_NS for number in (1, 2, 3)), shade=51)
        wait_for(lambda: pictures.glimpse().last_ns == 3 * STEP_NS)
        glimpse = pictures.glimpse()
        assert glimpse.same_since_ns == STEP_NS
        assert glimpse.brightness == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("fault", "why"),
    [
        (BadInput("Desk cannot be read any more.", "Plug it in."), "Desk cannot be read any more."),
        (RuntimeError("of the driver"), "The camera failed (RuntimeError)."),
    ],
)
def test_a_camera_that_fails_is_opened_again_on_the_same_clock(
    time: StandingClock, fault: Exception, why: str
) -> None:
    missing = BadInput("The camera Desk is not plugged in.", "Plug it in.")
    first, second = FedCamera(time, MEASURED_NS), FedCamera(time)
    with live(first, missing, missing, second) as (pictures, shelf):
        taken = iter(pictures)
        next(taken)
        glimpses: list[Glimpse] = []
        time.on_wait = lambda: glimpses.append(pictures.glimpse())
        first.give(fault)
        assert shelf.all_opened.wait(20.0)
        wait_for(lambda: pictures.glimpse().why == "")
        assert [glimpse.why for glimpse in glimpses] == [why, missing.what, missing.what]
        assert time.waits_ns == [S // 2, S, 2 * S]
        assert [glimpse.retry_ns for glimpse in glimpses] == [S // 2, 3 * S // 2, 7 * S // 2]
        assert math.isnan(pictures.glimpse().rate_hz), "the gap is none of its pace"
        back_ns = time.now_ns + STEP_NS
        second.give(back_ns)
        assert next(taken).t_ns == back_ns - LAST_NS
        assert first.n_closed == 1


def test_pauses_grow_and_begin_anew_after_good_pictures(time: StandingClock) -> None:
    missing = BadInput("It is not there.", "Plug it in.")
    first, back, last = FedCamera(time, MEASURED_NS), FedCamera(time), FedCamera(time)
    with live(first, *[missing] * 6, back, last) as (pictures, shelf):
        first.give(missing)
        wait_for(lambda: shelf.n_opened == 8 and pictures.glimpse().why == "")
        assert time.waits_ns == [S // 2, S, 2 * S, 4 * S, 5 * S, 5 * S, 5 * S]
        back.give(time.now_ns + STEP_NS, missing)
        assert shelf.all_opened.wait(20.0)
        assert time.waits_ns[7:] == [S // 2]
        assert (back.n_closed, last.n_closed) == (1, 0)


def test_a_camera_that_gives_nothing_is_closed_after_a_second(time: StandingClock) -> None:
    first, second = FedCamera(time, MEASURED_NS), FedCamera(time)
    with live(first, second) as (pictures, shelf):
        first.give(*[None] * 40, LAST_NS + S)
        wait_for(lambda: time.now_ns == LAST_NS + S)
        assert first.n_closed == 0, "reads that fail now and then are no loss"
        first.end()
        assert shelf.all_opened.wait(20.0)
        assert first.n_closed == 1
        assert sum(time.waits_ns[40:-1]) in range(S, S + 40_000_001)
        assert time.waits_ns[-1] == S // 2
        assert pictures.glimpse().last_ns == 0


def test_a_camera_of_another_size_is_not_taken_back(time: StandingClock) -> None:
    first, other = FedCamera(time, MEASURED_NS), FedCamera(time, (), (32, 24))
    same = FedCamera(time)
    with live(first, other, same) as (pictures, shelf):
        taken = iter(pictures)
        next(taken)
        glimpses: list[Glimpse] = []
        time.on_wait = lambda: glimpses.append(pictures.glimpse())
        first.give(BadInput("It is gone.", ""))
        assert shelf.all_opened.wait(20.0)
        assert "pictures of 32 x 24 px; they were 64 x 48 px" in glimpses[-1].why
        assert (first.n_closed, other.n_closed) == (1, 1)
        same.give(time.now_ns + 1)
        assert next(taken).rgb.shape == (48, 64, 3)


def test_a_picture_of_another_size_closes_the_camera(time: StandingClock) -> None:
    first, second = FedCamera(time, MEASURED_NS), FedCamera(time)
    with live(first, second) as (_, shelf):
        first.info = StreamInfo("fed", 32, 24, 0.0, 0)
        first.give(LAST_NS + STEP_NS)
        assert shelf.all_opened.wait(20.0)
        assert first.n_closed == 1


def test_a_picture_repeated_for_five_seconds_closes_the_camera(time: StandingClock) -> None:
    """Some drivers repeat the last picture of a camera that was unplugged."""
    first, second = FedCamera(time, MEASURED_NS), FedCamera(time)
    with live(first, second) as (pictures, shelf):
        next(iter(pictures))
        glimpses: list[Glimpse] = []
        time.on_wait = lambda: glimpses.append(pictures.glimpse())
        first.give(*(LAST_NS + number * STEP_NS for number in range(1, 127)), shade=77)
        wait_for(lambda: pictures.glimpse().last_ns == 126 * STEP_NS)
        assert first.n_closed == 0
        first.give(LAST_NS + 127 * STEP_NS, shade=77)
        assert shelf.all_opened.wait(20.0)
        assert [glimpse.why for glimpse in glimpses] == ["The camera repeated one picture."]


def test_an_error_in_the_first_opening_reaches_the_caller(time: StandingClock) -> None:
    with pytest.raises(BadInput, match="There is no camera 7"):
        LivePictures(Shelf(BadInput("There is no camera 7.", "Plug one in.")))


def test_a_camera_without_pictures_is_an_error_and_closed(time: StandingClock) -> None:
    camera = FedCamera(time)
    camera.end()
    with pytest.raises(BadInput, match="fed gives no pictures"):
        LivePictures(Shelf(camera))
    assert camera.n_closed == 1
    assert sum(time.waits_ns) in range(live_capture.FIRST_NS, live_capture.FIRST_NS + S)


def test_one_that_never_answers_is_left_behind(
    time: StandingClock, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(live_capture, "JOIN_S", 0.05)
    camera = FedCamera(time)
    monkeypatch.setattr(live_capture, "OPEN_LIMIT_NS", -1)
    with pytest.raises(BadInput, match="does not answer"):
        LivePictures(Shelf(camera))
    assert "left behind" in caplog.text
    camera.end()
    wait_for(lambda: camera.n_closed == 1)


def test_waiting_for_a_camera_may_be_given_up(time: StandingClock) -> None:
    camera, give_up = FedCamera(time), threading.Event()
    give_up.set()
    with pytest.raises(GaveUp):
        LivePictures(Shelf(camera), give_up)
    camera.end()
    wait_for(lambda: camera.n_closed == 1)


def test_a_read_that_blocks_does_not_block_closing(
    time: StandingClock, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(live_capture, "JOIN_S", 0.05)
    camera = FedCamera(time, MEASURED_NS)
    pictures = LivePictures(Shelf(camera))
    assert next(iter(pictures)).t_ns == 0
    pictures.close()
    pictures.close()
    assert pictures.left_behind
    assert caplog.text.count("left behind") == 1
    assert list(pictures) == []
    camera.end()
    wait_for(lambda: camera.n_closed == 1)


def test_closing_while_the_camera_is_away_ends_the_wait_for_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With the real clock: the pause before the next try is ended, not waited for."""
    monkeypatch.setattr(live_capture, "PAUSES_NS", (3600 * S,))
    with monkeypatch.context() as patch:
        time = StandingClock(patch)
        camera = FedCamera(time, MEASURED_NS)
        pictures = LivePictures(Shelf(camera))
    camera.give(BadInput("It is gone.", ""))
    wait_for(lambda: pictures.glimpse().why == "It is gone.")
    pictures.close()
    assert not pictures.left_behind
    assert camera.n_closed == 1


def test_what_happens_to_the_camera_is_logged_once(
    time: StandingClock, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.WARNING)
    missing = BadInput("It is gone.", "")
    first, second = FedCamera(time, MEASURED_NS), FedCamera(time)
    with live(first, missing, missing, second) as (pictures, _):
        first.give(missing)
        wait_for(lambda: "open again" in caplog.text)
        assert pictures.glimpse().why == ""
    assert caplog.messages == ["It is gone.", "The camera is open again."]
