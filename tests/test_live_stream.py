"""A network camera from the socket to the conditions told, with all that goes wrong on it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from mjpeg_server import Fault, MjpegServer, clip_pictures

from posewatch.camera.live_camera import open_stream
from posewatch.core import camera_watch
from posewatch.core.camera_watch import CameraWatchState, Limits
from posewatch.core.records import CAMERA, PICTURE, SourceState
from posewatch.core.sources import Picture, TimedPicture
from posewatch.core.timebase import to_ns
from posewatch.runtime import clock, live_capture, picture_meter
from posewatch.runtime.live_capture import LivePictures

CLIP = Path(__file__).parents[1] / "demo_clips" / "hoods_steady.mp4"
RATE_HZ = 50.0
#: Shorter than a studio's, as are those patched below: the conditions are the same.
LIMITS = Limits(gone_s=0.3, frozen_s=0.3, back_s=0.4, lasting_s=0.4)
TIMEOUT_S = 0.4
PATIENCE_S = 20.0


@pytest.fixture(scope="module")
def rider() -> list[Picture]:
    return [np.ascontiguousarray(rgb[::2, ::2]) for rgb in clip_pictures(CLIP, 60)]


@pytest.fixture
def server(rider: list[Picture]) -> Iterator[MjpegServer]:
    with MjpegServer(rider, RATE_HZ) as made:
        yield made


class Watched:
    """Live pictures with somebody who takes them and somebody who watches the camera."""

    def __init__(self, url: str) -> None:
        self.pictures = LivePictures(
            lambda: open_stream(url, clock.monotonic_ns, TIMEOUT_S, TIMEOUT_S)
        )
        self.taken: list[TimedPicture] = []
        self.told: list[SourceState] = []
        self._state = CameraWatchState()
        self._taker = threading.Thread(target=self._take, name="taker")
        self._taker.start()

    def _take(self) -> None:
        for picture in self.pictures:
            self.taken.append(picture)

    def until(self, condition: Callable[[], bool]) -> None:
        """Watch until something has come about."""
        never = threading.Event()
        until_ns = clock.monotonic_ns() + to_ns(PATIENCE_S)
        while not condition():
            now_ns, glimpse = self.pictures.now_ns(), self.pictures.glimpse()
            self._state, told = camera_watch.step(self._state, now_ns, glimpse, LIMITS)
            self.told += told
            assert clock.monotonic_ns() < until_ns, (self.told, glimpse)
            never.wait(0.005)

    def until_told(self, source: str, condition: str) -> SourceState:
        """Watch until this is told; returns it."""

        def is_told() -> bool:
            return any((one.source, one.condition) == (source, condition) for one in self.told)

        self.until(is_told)
        return self.told[-1]

    def more(self, n: int) -> None:
        """Watch until so many more pictures were taken."""
        goal = len(self.taken) + n
        self.until(lambda: len(self.taken) >= goal)

    def close(self) -> None:
        self.pictures.close()
        self._taker.join()


@pytest.fixture
def watched(server: MjpegServer, monkeypatch: pytest.MonkeyPatch) -> Iterator[Watched]:
    monkeypatch.setattr(live_capture, "MEASURED", 30)
    monkeypatch.setattr(live_capture, "MEASURE_LEAST_NS", to_ns(0.6))
    monkeypatch.setattr(live_capture, "GONE_NS", to_ns(0.8))
    monkeypatch.setattr(live_capture, "PAUSES_NS", (to_ns(0.1),))
    monkeypatch.setattr(picture_meter, "RATE_OVER_NS", to_ns(0.6))
    made = Watched(server.url)
    yield made
    made.close()
    assert not made.pictures.left_behind
    assert not [one for one in threading.enumerate() if one.name in ("capture", "taker")]


def test_a_good_stream_is_measured_taken_and_not_spoken_of(
    server: MjpegServer, watched: Watched, rider: list[Picture]
) -> None:
    info = watched.pictures.info
    assert (info.name, info.width_px, info.height_px) == (server.url, 320, 240)
    # The container claims 25 Hz whatever comes; the tolerance is for a busy machine.
    assert info.rate_hz == pytest.approx(RATE_HZ, rel=0.15)
    watched.more(40)
    assert watched.told == []
    times = [picture.t_ns for picture in watched.taken]
    assert times[0] == 0
    assert all(later > earlier for earlier, later in pairwise(times))
    # JPEG and chroma subsampling cost a few grey levels.
    differences = [
        min(np.abs(picture.rgb.astype(int) - rgb).mean() for rgb in rider)
        for picture in watched.taken[:3]
    ]
    assert max(differences) < 4.0


@pytest.mark.parametrize(
    ("fault", "reason"),
    [
        (Fault.FROZEN, "The camera repeats one picture. Unplug it"),
        (Fault.STALLED, "No picture has come from the camera for over 0.3 s. Check"),
        (Fault.BROKEN, "No picture has come from the camera for over 0.3 s. Check"),
        (Fault.GONE, "No picture has come from the camera for over 0.3 s. Check"),
    ],
)
def test_a_fault_is_told_with_its_reason_and_so_is_its_end(
    server: MjpegServer, watched: Watched, fault: Fault, reason: str
) -> None:
    watched.more(5)
    server.fault = fault
    lost = watched.until_told(CAMERA, "lost")
    assert watched.told == [lost]
    assert lost.text.startswith(reason)
    if fault is not Fault.FROZEN:
        assert lost.t_ns == watched.taken[-1].t_ns, "since the last good picture"
    server.fault = Fault.NONE
    running = watched.until_told(CAMERA, "running")
    assert running.t_ns > lost.t_ns + to_ns(LIMITS.back_s)
    assert {one.source for one in watched.told} == {CAMERA}
    watched.more(5)
    times = [picture.t_ns for picture in watched.taken]
    assert all(later > earlier for earlier, later in pairwise(times))
    assert 0 <= watched.pictures.now_ns() - times[-1] < to_ns(1.0), "on the same clock"


def test_a_camera_that_is_off_says_so_until_it_is_on(server: MjpegServer, watched: Watched) -> None:
    watched.more(5)
    server.fault = Fault.GONE
    watched.until(lambda: "No pictures can be had" in watched.pictures.glimpse().why)
    watched.until(lambda: server.n_connections > 4)
    watched.until(lambda: watched.pictures.glimpse().retry_ns is not None)
    lost = watched.told[0]
    assert lost.t_ns == watched.taken[-1].t_ns
    text = "\n".join(one.text for one in watched.told)
    assert f"No pictures can be had from {server.url}. It is tried again" in text
    assert len({one.text for one in watched.told}) == len(watched.told), "each reason once"
    server.fault = Fault.NONE
    watched.until_told(CAMERA, "running")


def test_slow_and_dark_pictures_are_told_and_lose_nothing(
    server: MjpegServer, watched: Watched, rider: list[Picture]
) -> None:
    watched.more(30)
    server.rate_hz = 20.0
    slow = watched.until_told(PICTURE, "slow")
    assert "pictures a second" in slow.text
    server.rate_hz = RATE_HZ
    watched.until_told(PICTURE, "running")
    watched.told.clear()
    server.show([rgb // 16 for rgb in rider])
    dark = watched.until_told(PICTURE, "dark")
    assert "Switch on more light" in dark.text
    server.show(rider)
    watched.until_told(PICTURE, "running")
    assert {one.source for one in watched.told} == {PICTURE}
