"""Gathering views from folders and moving pictures."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from made_boards import Darkroom, Held

from posewatch.camera.lens_views import gather, look_through_folder, look_through_stream
from posewatch.camera.opencv import cv2
from posewatch.core.boards import BOARDS, board_named
from posewatch.core.lens_calibration import Refusal
from posewatch.core.plane import Lens
from posewatch.core.sources import Picture, TimedPicture
from posewatch.errors import BadInput

LENS = Lens(320, 240, 300.0, 300.0, 160.0, 120.0)
BOARD = board_named("lens-a4")


@pytest.fixture(scope="module")
def room() -> Darkroom:
    return Darkroom(LENS)


def keep(path: Path, rgb: Picture) -> None:
    there, data = cv2.imencode(path.suffix, cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR))
    assert there
    path.write_bytes(np.asarray(data).tobytes())


def test_a_folder_is_read_by_name_and_all_is_accounted_for(tmp_path: Path, room: Darkroom) -> None:
    rgb = room.picture(BOARD, Held(0.0, 0.0, 450.0))
    keep(tmp_path / "b.png", rgb)
    keep(tmp_path / "ä [1].JPG", rgb)
    keep(tmp_path / "large.png", np.repeat(np.repeat(rgb, 2, axis=0), 2, axis=1))
    keep(tmp_path / "nothing.png", np.full_like(rgb, 90))
    keep(tmp_path / "other.png", room.picture(board_named("lens-a3"), Held(0.0, 0.0, 550.0)))
    (tmp_path / "torn.png").write_bytes(b"\x89PNG\r\n")
    (tmp_path / "empty.bmp").write_bytes(b"")
    (tmp_path / "notes.txt").write_text("no picture")
    heard: list[tuple[int, str]] = []
    seen = look_through_folder(tmp_path, BOARDS, lambda n, what: heard.append((n, what)))
    assert [n for n, _ in heard] == list(range(1, 8))
    assert heard[0][1] == "b.png: lens-a4, 40 corners"
    found = gather(seen)
    assert (found.board, found.size_px) == (BOARD, (320, 240))
    assert [view.name for view in found.views] == ["b.png", "ä [1].JPG"]
    assert found.views[0].points_px == pytest.approx(
        room.corners_px(BOARD, Held(0.0, 0.0, 450.0)), abs=0.3
    )
    reasons = {one.name: one.refusal for one in found.rejected}
    assert reasons == {
        "empty.bmp": Refusal.NO_PICTURE,
        "large.png": Refusal.OTHER_SIZE,
        "nothing.png": Refusal.NO_BOARD,
        "other.png": Refusal.OTHER_BOARD,
        "torn.png": Refusal.NO_PICTURE,
    }


def test_a_folder_without_pictures_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="There are no pictures in"):
        look_through_folder(tmp_path, BOARDS, lambda n, what: None)


def test_pictures_without_a_board_are_refused(tmp_path: Path) -> None:
    keep(tmp_path / "wall.png", np.full((240, 320, 3), 90, np.uint8))
    seen = look_through_folder(tmp_path, BOARDS, lambda n, what: None)
    with pytest.raises(BadInput, match="No board was found in 1 pictures"):
        gather(seen)
    with pytest.raises(BadInput, match="No board was seen that was held still"):
        gather([])


def filmed(room: Darkroom, places_mm: list[float]) -> Iterator[TimedPicture]:
    """Ten pictures a second of the board at these places across."""
    pictures = {x: room.picture(BOARD, Held(x, 0.0, 450.0)) for x in set(places_mm)}
    for n, x in enumerate(places_mm):
        yield TimedPicture(n * 100_000_000, pictures[x])


def test_views_are_taken_while_the_board_is_still(room: Darkroom) -> None:
    places = [0.0] * 3 + [10.0, 20.0, 30.0, 40.0] + [50.0] * 3
    counts: list[int] = []
    taken = list(
        look_through_stream(filmed(room, places), BOARDS, lambda n, what: counts.append(n))
    )
    assert [one.name for one in taken] == ["0.1 s", "0.8 s"]
    assert counts == [0, *[1] * 7, 2, 2]


def test_at_most_a_view_every_half_second_and_none_twice(room: Darkroom) -> None:
    places = [0.0] * 2 + [50.0] * 6 + [0.0] * 8
    taken = list(look_through_stream(filmed(room, places), BOARDS, lambda n, what: None))
    # At 50 mm the board is still from 0.3 s on; the second stay at 0 mm shows nothing new.
    assert [one.name for one in taken] == ["0.1 s", "0.6 s"]


def test_pictures_between_two_looks_are_passed_over(room: Darkroom) -> None:
    rgb = room.picture(BOARD, Held(0.0, 0.0, 450.0))
    fast = (TimedPicture(n * 10_000_000, rgb) for n in range(40))
    looks: list[str] = []
    list(look_through_stream(fast, BOARDS, lambda n, what: looks.append(what)))
    assert looks == [
        "lens-a4, 40 corners",
        "lens-a4, 40 corners, still",
        *["lens-a4, 40 corners, taken: hold it differently"] * 2,
    ]
