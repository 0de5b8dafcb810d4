"""``posewatch camera board`` and ``calibrate``, as a studio runs them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from command_runs import Run
from made_boards import Darkroom, lens_views

from posewatch.camera.live_camera import OpenCamera
from posewatch.camera.opencv import cv2
from posewatch.camera.webcams import Webcam
from posewatch.core.boards import board_named
from posewatch.core.plane import Lens
from posewatch.core.sources import Picture
from posewatch.store.settings import load_settings

LENS = Lens(640, 480, 610.0, 610.0, 325.3, 236.1, (-0.1, 0.05, 0.0, 0.0, 0.0))
BOARD = board_named("lens-a4")
N_VIEWS = 12


@pytest.fixture(scope="module")
def pictures() -> list[Picture]:
    room = Darkroom(LENS, rays=2)
    views = lens_views(BOARD, LENS, N_VIEWS, seed=1)
    return [room.picture(BOARD, held, seed=k) for k, held in enumerate(views)]


@pytest.fixture(scope="module")
def folder(pictures: list[Picture], tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("views [1]")
    for k, rgb in enumerate(pictures):
        there, data = cv2.imencode(".png", np.ascontiguousarray(rgb[:, :, ::-1]))
        assert there
        (place / f"{k:02}.png").write_bytes(np.asarray(data).tobytes())
    (place / "torn.png").write_bytes(b"\x89PNG")
    return place


def write_clip(path: Path, pictures: list[Picture]) -> Path:
    """Hold each picture for 0.6 s, ten pictures a second."""
    with av.open(path, "w") as container:
        stream = container.add_stream("libx264", rate=10, options={"crf": "12", "bf": "0"})
        stream.height, stream.width = pictures[0].shape[:2]
        stream.pix_fmt = "yuv420p"
        for rgb in pictures:
            for _ in range(6):
                container.mux(stream.encode(av.VideoFrame.from_ndarray(rgb)))
        container.mux(stream.encode())
    return path


def saved(name: str) -> dict[str, Any]:
    path = load_settings().data_folder / "cameras" / name / "lens.json"
    document: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return document


def test_all_boards_are_written_to_a_folder(run: Run, tmp_path: Path) -> None:
    ran = run("camera", "board", "-o", tmp_path)
    assert (ran.status, ran.err) == (0, "")
    names = ["bike-a3.pdf", "bike-a4.pdf", "lens-a3.pdf", "lens-a4.pdf"]
    assert sorted(path.name for path in tmp_path.iterdir()) == names
    assert f"wrote {tmp_path / 'bike-a4.pdf'} (A4, held on the bike)\n" in ran.out
    assert "Print at 100 %" in ran.out


def test_one_board_and_never_over_a_file(run: Run, tmp_path: Path) -> None:
    (tmp_path / "lens-a4.pdf").write_text("mine")
    ran = run("camera", "board", "--board", "lens-a3", "--board", "lens-a4", "-o", tmp_path)
    assert ran.status == 2
    assert "lens-a4.pdf exists already" in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["lens-a4.pdf"]
    assert run("camera", "board", "--board", "lens-a3", "-o", tmp_path).status == 0
    unknown = run("camera", "board", "--board", "a5", "-o", tmp_path)
    assert (unknown.status, unknown.out) == (2, "")
    assert "There is no board 'a5'" in unknown.err


def test_a_folder_of_pictures_becomes_a_lens_file(run: Run, folder: Path) -> None:
    ran = run("camera", "calibrate", folder, "--name", "left", "--bar-mm", "99.5")
    assert (ran.status, ran.err) == (0, "")
    assert "left out torn.png: not readable as a picture\n" in ran.out
    assert "lens-a4, bar 99.5 mm: 12 views used, 1 left out" in ran.out
    assert "% of the picture covered" in ran.out
    assert "focal length 6" in ran.out
    assert "+-" in ran.out
    assert "note: 12 views were used; 15 to 25 are better" in ran.out
    assert "1/250 s" in ran.out
    assert ran.last_line.startswith("saved left as ")
    document = saved("left")
    assert document["lens"]["fx_px"] == pytest.approx(LENS.fx_px, rel=0.005)
    assert document["bar_mm"] == 99.5
    again = run("camera", "calibrate", folder, "--name", "left", "--board", "lens-a4")
    assert "the calibration before is kept as " in again.out
    assert saved("left")["bar_mm"] == 100.0


def test_a_clip_becomes_a_lens_file(run: Run, pictures: list[Picture], tmp_path: Path) -> None:
    clip = write_clip(tmp_path / "views.mp4", pictures)
    ran = run("camera", "calibrate", clip, "--name", "clip")
    assert (ran.status, ran.err) == (0, "")
    assert saved("clip")["lens"]["fx_px"] == pytest.approx(LENS.fx_px, rel=0.005)
    assert saved("clip")["n_views"] == N_VIEWS
    assert "10 pictures a second are 7 a revolution at 90 rpm" in ran.out


def test_too_little_saves_nothing_and_says_what_is_missing(
    run: Run, pictures: list[Picture], tmp_path: Path
) -> None:
    clip = write_clip(tmp_path / "views.mp4", pictures[:3])
    ran = run("camera", "calibrate", clip, "--name", "few")
    assert (ran.status, ran.out) == (2, "")
    assert "The lens cannot be calibrated yet: 3 views are of use" in ran.err
    assert "at least 7 more views" in ran.err
    assert ran.err.count("\n") == 1
    assert not (load_settings().data_folder / "cameras").exists()


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--bar-mm", "10"), "The bar of the board cannot be 10 mm long"),
        (("--board", "lens-a5"), "There is no board 'lens-a5'"),
        (("--board", "bike-a4"), "No board was found in 13 pictures"),
        (("--lock", "focus"), "--lock is for cameras"),
        (("--lock", "iris=3"), "'iris=3' cannot be locked"),
        (("--name", "../x"), "The camera cannot be called '../x'"),
    ],
)
def test_what_cannot_be_used_is_named(
    run: Run, folder: Path, options: tuple[str, str], message: str
) -> None:
    ran = run("camera", "calibrate", folder, *("--name", "left"), *options)
    assert (ran.status, ran.out) == (2, "")
    assert message in ran.err


def test_no_such_camera_and_no_such_clip(run: Run, tmp_path: Path) -> None:
    camera = run("camera", "calibrate", "97", "--name", "left")
    assert (camera.status, camera.out) == (2, "")
    assert "There is no camera 97." in camera.err
    clip = run("camera", "calibrate", tmp_path / "none.mp4", "--name", "left")
    assert clip.status == 2
    assert "There is no clip" in clip.err


class FakeCamera:
    """Holds each picture for some grabs; has a focus and nothing else."""

    def __init__(self, pictures: list[Picture]) -> None:
        self._pictures = [rgb for rgb in pictures for _ in range(8)]
        self._focus = {cv2.CAP_PROP_FOCUS: 30.0, cv2.CAP_PROP_AUTOFOCUS: 1.0}
        self._now = -1
        self.released = False

    def getBackendName(self) -> str:
        return "V4L2"

    def get(self, propId: int) -> float:
        return self._focus.get(propId, -1.0)

    def set(self, propId: int, value: float) -> bool:
        if propId in self._focus:
            self._focus[propId] = value
        return propId in self._focus

    def grab(self) -> bool:
        self._now += 1
        return self._now < len(self._pictures)

    def retrieve(self) -> tuple[bool, Any]:
        return True, np.ascontiguousarray(self._pictures[self._now][:, :, ::-1])

    def release(self) -> None:
        self.released = True

    def clock_ns(self) -> int:
        """Ten grabs a second."""
        return 100_000_000 * self._now


def test_a_camera_is_locked_watched_and_released(
    run: Run, pictures: list[Picture], monkeypatch: pytest.MonkeyPatch
) -> None:
    camera = FakeCamera(pictures)
    driver: Any = camera
    words = []

    def open_live(word: str, now_ns: Callable[[], int]) -> OpenCamera:
        words.append(word)
        return OpenCamera(driver, "live", now_ns)

    monkeypatch.setattr("posewatch.camera.live_camera.open_live", open_live)
    monkeypatch.setattr("posewatch.runtime.clock.monotonic_ns", camera.clock_ns)
    monkeypatch.setattr("posewatch.cli.camera.LIVE_VIEWS", N_VIEWS)
    ran = run(
        "camera", "calibrate", 0, "--name", "live", "--lock", "focus=20", "--lock", "white-balance"
    )
    assert (ran.status, ran.err) == (0, "")
    assert "focus: held at 20\n" in ran.out
    assert "white balance: NOT held: this camera does not offer it\n" in ran.out
    assert saved("live")["lens"]["fx_px"] == pytest.approx(LENS.fx_px, rel=0.005)
    assert camera.released
    assert words == ["0"]


def test_cameras_are_listed_with_what_they_are_opened_by(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    webcams = (Webcam("Desk", "/dev/v4l/by-id/usb-desk", 2, 200),)
    monkeypatch.setattr("posewatch.camera.webcams.list_webcams", lambda: webcams)
    ran = run("camera", "list")
    assert (ran.status, ran.out) == (0, "2  Desk  /dev/v4l/by-id/usb-desk\n")
    monkeypatch.setattr("posewatch.camera.webcams.list_webcams", lambda: ())
    assert "no camera is plugged in" in run("camera", "list").out
