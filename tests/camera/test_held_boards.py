"""Boards in rendered pictures and clips: their corners, how still they were, what is refused."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from made_boards import Darkroom
from simulated_boards import LENS, HeldAtBike, at_axles, camera_at

from posewatch.camera.held_boards import read_held_board
from posewatch.camera.opencv import cv2
from posewatch.core.boards import board_named
from posewatch.core.plane import BikeView, project_px
from posewatch.core.records import Side
from posewatch.core.sources import Picture
from posewatch.errors import BadInput

LARGE = board_named("bike-a3")
CAMERA = camera_at(Side.LEFT, 6.0, 1.0, -1.0, up_mm=450.0)


@pytest.fixture(scope="module")
def darkroom() -> Darkroom:
    return Darkroom(LENS)


def still(
    darkroom: Darkroom, path: Path, held: HeldAtBike, camera: BikeView = CAMERA, name: str = ""
) -> Path:
    """Write a rendered picture of a board at the bike."""
    board = board_named(name or "bike-a3")
    return write(path, darkroom.picture(board, held.seen_by(camera)))


def write(path: Path, rgb: Picture) -> Path:
    done, data = cv2.imencode(path.suffix, cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR))
    assert done
    path.write_bytes(data.tobytes())
    return path


def film(path: Path, pictures: list[Picture]) -> Path:
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=30, options={"crf": "16", "bf": "0"})
        stream.height, stream.width = pictures[0].shape[:2]
        stream.pix_fmt = "yuv420p"
        stream.codec_context.time_base = Fraction(1, 30)
        for number, rgb in enumerate(pictures):
            frame = av.VideoFrame.from_ndarray(rgb, format="rgb24")
            frame.pts, frame.time_base = number, Fraction(1, 30)
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    return path


def test_a_picture_with_an_unusual_name(darkroom: Darkroom, tmp_path: Path) -> None:
    held = at_axles(Side.LEFT, 5.0, -5.0, 0.0)[1]
    seen = read_held_board(still(darkroom, tmp_path / "tretläger é.PNG", held), LENS, 100.0)
    assert (seen.board.name, seen.n_frames, seen.scatter_mm) == ("bike-a3", 1, 0.0)
    true = project_px(LENS, CAMERA, held.corners_mm(LARGE))
    assert seen.view.points_px == pytest.approx(true, abs=0.1)
    assert seen.view.points_mm == pytest.approx(LARGE.corners_mm())


def test_the_measured_bar_scales_the_board(darkroom: Darkroom, tmp_path: Path) -> None:
    path = still(darkroom, tmp_path / "a.png", at_axles(Side.LEFT)[0], name="bike-a4")
    seen = read_held_board(path, LENS, 98.0)
    assert seen.board.square_mm == pytest.approx(0.98 * 60.0)
    assert seen.view.points_mm == pytest.approx(0.98 * board_named("bike-a4").corners_mm())


def test_a_clip_is_averaged_where_the_board_was_still(darkroom: Darkroom, tmp_path: Path) -> None:
    held = at_axles(Side.LEFT)[1]
    picture = darkroom.picture(LARGE, held.seen_by(CAMERA))
    coming = [np.ascontiguousarray(np.roll(picture, -3 * k, axis=1)) for k in range(12, 0, -1)]
    clip = film(tmp_path / "crank.mp4", [*coming, *[picture] * 24])
    told: list[int] = []
    seen = read_held_board(clip, LENS, 100.0, told.append)
    # 36 pictures are searched at every sixth, then all of them.
    assert told == list(range(1, 43))
    assert (seen.n_frames, seen.scatter_mm < 0.5) == (15, True)
    true = project_px(LENS, CAMERA, held.corners_mm(LARGE))
    assert seen.view.points_px == pytest.approx(true, abs=0.15)


def test_the_longest_still_stretch_is_averaged(darkroom: Darkroom, tmp_path: Path) -> None:
    picture = darkroom.picture(LARGE, at_axles(Side.LEFT)[1].seen_by(CAMERA))
    gone = np.full_like(picture, 110)
    clip = film(tmp_path / "a.mp4", [*[gone] * 6, *[picture] * 62, *[gone] * 4])
    seen = read_held_board(clip, LENS, 100.0)
    assert seen.n_frames >= 50
    assert seen.scatter_mm < 0.5


def test_a_board_in_motion_is_refused_with_its_scatter(darkroom: Darkroom, tmp_path: Path) -> None:
    picture = darkroom.picture(LARGE, at_axles(Side.LEFT)[1].seen_by(CAMERA))
    swaying = [round(4 * np.sin(k / 3)) for k in range(30)]
    clip = film(
        tmp_path / "a.mp4",
        [np.ascontiguousarray(np.roll(picture, by, axis=(0, 1))) for by in swaying],
    )
    # 4 px sine is 2.8 px SD, at 4 mm a pixel.
    with pytest.raises(
        BadInput, match=r"was not held still: it moved by (9|1[0-3])\.\d mm"
    ) as caught:
        read_held_board(clip, LENS, 100.0)
    assert "two seconds" in caught.value.advice


def test_what_is_no_board_is_refused(tmp_path: Path) -> None:
    grey = np.full((480, 640, 3), 110, np.uint8)
    with pytest.raises(BadInput, match="seen in 0 of 1 pictures"):
        read_held_board(write(tmp_path / "a.png", grey), LENS, 100.0)
    with pytest.raises(BadInput, match="seen in 0 of 12 pictures"):
        read_held_board(film(tmp_path / "a.mp4", [grey] * 12), LENS, 100.0)


def test_a_lens_board_is_none_for_the_bike(darkroom: Darkroom, tmp_path: Path) -> None:
    near = camera_at(Side.RIGHT, distance_mm=1500.0, up_mm=100.0)
    path = still(darkroom, tmp_path / "a.png", at_axles(Side.RIGHT)[1], near, "lens-a3")
    with pytest.raises(BadInput, match="A bike board is seen in 0 of 1"):
        read_held_board(path, LENS, 100.0)


def test_files_that_cannot_be_used(tmp_path: Path) -> None:
    (tmp_path / "text.png").write_text("no picture", encoding="utf-8")
    (tmp_path / "empty.jpg").write_bytes(b"")
    grey = write(tmp_path / "small.png", np.full((240, 320, 3), 110, np.uint8))
    for name, said in (
        ("text.png", "is not a picture"),
        ("empty.jpg", "is not a picture"),
        ("none.png", "There is no picture"),
        ("none.mp4", "There is no clip"),
    ):
        with pytest.raises(BadInput, match=said):
            read_held_board(tmp_path / name, LENS, 100.0)
    with pytest.raises(BadInput, match="320 x 240 px; the lens was calibrated at 640 x 480"):
        read_held_board(grey, LENS, 100.0)
