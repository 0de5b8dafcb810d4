"""Boards found in rendered pictures, where the truth is known to a hundredth of a pixel."""

from __future__ import annotations

import numpy as np
import pytest
from made_boards import WALL, Darkroom, Held, lens_views

from posewatch.camera.board_sightings import BoardSighting, find_board
from posewatch.core.boards import BOARDS, board_named
from posewatch.core.plane import Lens
from posewatch.core.records import FloatArray
from posewatch.core.sources import Picture

#: A usual webcam at 640 x 480; with 610 px, 4 mm a pixel are seen from 2.44 m.
LENS = Lens(640, 480, 610.0, 608.0, 325.3, 236.1, (-0.12, 0.08, 0.001, -0.0008, 0.0))
FOUR_MM_PX = 2440.0


@pytest.fixture(scope="module")
def room() -> Darkroom:
    return Darkroom(LENS)


def errors_px(room: Darkroom, found: BoardSighting, held: Held) -> FloatArray:
    return found.corners_px - room.corners_px(found.board, held)[found.corner_ids]


def rms_px(errors: FloatArray) -> float:
    """Root mean square of the distance."""
    return float(np.sqrt((errors**2).sum(axis=1).mean()))


@pytest.mark.parametrize("name", ["lens-a4", "lens-a3"])
def test_lens_boards_near_the_camera(room: Darkroom, name: str) -> None:
    board = board_named(name)
    every = []
    for k, held in enumerate(lens_views(board, LENS, 6, seed=1)):
        found = find_board(room.picture(board, held, seed=k))
        assert found is not None
        assert found.board == board
        assert len(found.corner_ids) >= 0.75 * board.n_corners
        assert found.points_mm == pytest.approx(board.corners_mm()[found.corner_ids])
        assert 1.0 < found.edge_px < 2.5
        every.append(errors_px(room, found, held))
    every_px = np.concatenate(every)
    assert rms_px(every_px) < 0.12
    # Half a pixel here would be the wrong corner of the pixels.
    assert np.abs(every_px.mean(axis=0)).max() < 0.03


@pytest.mark.parametrize("name", ["bike-a4", "bike-a3"])
def test_bike_boards_at_4_mm_a_pixel(room: Darkroom, name: str) -> None:
    board = board_named(name)
    rng = np.random.default_rng(5)
    every = []
    for k in range(6):
        x, y = rng.uniform(-450, 450), rng.uniform(-200, 300)
        held = Held(float(x), float(y), FOUR_MM_PX, *rng.uniform(-6, 6, 3).tolist())
        found = find_board(room.picture(board, held, seed=k, noise=4.0))
        assert found is not None
        assert found.board == board
        assert found.corner_ids.tolist() == list(range(6))
        errors = errors_px(room, found, held)
        assert rms_px(errors) < 3 * np.sqrt(2) * found.corner_sd_px
        every.append(errors)
    assert rms_px(np.concatenate(every)) < 0.06


def test_the_small_bike_board_is_found_at_5_mm_a_pixel_too(room: Darkroom) -> None:
    board = board_named("bike-a4")
    held = Held(-400.0, 250.0, 1.25 * FOUR_MM_PX, 4.0, -3.0, 5.0)
    found = find_board(room.picture(board, held))
    assert found is not None
    assert rms_px(errors_px(room, found, held)) < 0.15


def test_a_larger_picture_is_looked_at_as_well() -> None:
    room = Darkroom(Lens(1280, 720, 1100.0, 1100.0, 640.0, 360.0), rays=2)
    board = board_named("bike-a4")
    held = Held(300.0, 200.0, 3500.0, 3.0, 2.0, -4.0)
    found = find_board(room.picture(board, held))
    assert found is not None
    assert rms_px(errors_px(room, found, held)) < 0.08


def test_half_a_board_shows_the_corners_of_its_half(room: Darkroom) -> None:
    board = board_named("lens-a4")
    held = Held(0.0, 0.0, 450.0)
    rgb = room.picture(board, held)
    rgb[:, : round(LENS.cx_px)] = round(WALL)
    found = find_board(rgb)
    assert found is not None
    assert 12 <= len(found.corner_ids) <= board.n_corners // 2
    assert (found.points_mm[:, 0] > -1.0).all()
    assert rms_px(errors_px(room, found, held)) < 0.15


def test_fingers_over_the_rim_of_a_bike_board_do_little(room: Darkroom) -> None:
    board = board_named("bike-a3")
    held = Held(0.0, 0.0, FOUR_MM_PX)
    rgb = room.picture(board, held)
    left = round(LENS.cx_px - board.width_mm / 8)
    rgb[225:245, left - 6 : left + 6] = (190, 140, 120)  # 80 x 24 mm of hand over the left rim
    found = find_board(rgb)
    assert found is not None
    assert rms_px(errors_px(room, found, held)) < 0.25


def test_motion_widens_the_edges(room: Darkroom) -> None:
    board = board_named("lens-a4")
    held = Held(0.0, 0.0, 500.0)
    still = find_board(room.picture(board, held))
    moved = find_board(room.picture(board, held, smear_px=5))
    assert still is not None
    assert moved is not None
    assert moved.edge_px > still.edge_px + 2.5


def test_only_the_boards_asked_for_are_found(room: Darkroom) -> None:
    rgb = room.picture(board_named("lens-a4"), Held(0.0, 0.0, 500.0))
    assert find_board(rgb, [board for board in BOARDS if board.name != "lens-a4"]) is None


def test_a_board_of_another_print_scale_tells_its_own_millimetres(room: Darkroom) -> None:
    board = board_named("lens-a4")
    rgb = room.picture(board, Held(0.0, 0.0, 500.0))
    found = find_board(rgb, [board.printed(98.0)])
    assert found is not None
    assert found.points_mm == pytest.approx(0.98 * board.corners_mm()[found.corner_ids])


def noise() -> Picture:
    return np.random.default_rng(1).integers(0, 256, (480, 640, 3), np.uint8)


def plain() -> Picture:
    return np.full((480, 640, 3), 127, np.uint8)


def checks() -> Picture:
    squares = np.indices((480, 640)).sum(axis=0) // 20 % 2 * 255
    return np.repeat(squares.astype(np.uint8)[:, :, None], 3, axis=2)


@pytest.mark.parametrize("make", [noise, plain, checks])
def test_no_board_where_there_is_none(make: object) -> None:
    assert callable(make)
    assert find_board(make()) is None


def test_a_mirrored_picture_shows_no_board(room: Darkroom) -> None:
    rgb = room.picture(board_named("lens-a4"), Held(0.0, 0.0, 500.0))
    assert find_board(np.ascontiguousarray(rgb[:, ::-1])) is None
