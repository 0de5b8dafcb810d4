"""A board measured through a profile: true through the right one, off by known shares else."""

from __future__ import annotations

from dataclasses import replace

import pytest
from simulated_boards import LENS, at_axles, averaged, camera_at

from posewatch.camera.bike_view import BoardView
from posewatch.camera.board_check import TOLD_SHARE, check_board
from posewatch.core.boards import board_named
from posewatch.core.plane import CameraProfile, Lens
from posewatch.core.records import Side

LARGE = board_named("bike-a3")
SIDES = pytest.mark.parametrize("side", list(Side))


@SIDES
def test_through_the_right_profile_squares_are_true(side: Side) -> None:
    camera = camera_at(side, 8.0, 1.0, 1.0)
    for held in at_axles(side, 10.0, -70.0, 180.0):
        seen = averaged(LARGE, held, camera)
        found = check_board(CameraProfile(LENS, camera), seen, 88.0, held.offset_mm)
        # 3 x 2 corners: four sides along, three up.
        assert found.n_sides == 7
        assert found.found_mm == pytest.approx(88.0, abs=1e-6)
        assert found.worst_mm == pytest.approx(0.0, abs=1e-6)


@SIDES
def test_a_board_nearer_than_said_is_measured_too_large(side: Side) -> None:
    camera = camera_at(side)
    held = replace(at_axles(side)[1], offset_mm=75.0 + 68.5)
    found = check_board(CameraProfile(LENS, camera), averaged(LARGE, held, camera), 88.0, 75.0)
    # 68.5 mm of 3425 mm are 2 %, seen from 3356.5 mm.
    assert found.share == pytest.approx(3425.0 / 3356.5 - 1.0)
    assert found.share > TOLD_SHARE
    assert found.worst_mm == pytest.approx(88.0 * found.share)


def test_a_wrong_focal_length_is_seen() -> None:
    camera, held = camera_at(Side.LEFT), at_axles(Side.LEFT)[1]
    longer = CameraProfile(Lens(640, 480, 903.0, 903.0, 320.0, 240.0), camera)
    found = check_board(longer, averaged(LARGE, held, camera), 88.0, held.offset_mm)
    assert found.share == pytest.approx(860 / 903 - 1)


def test_a_corner_out_of_place_is_the_worst_side() -> None:
    camera, held = camera_at(Side.RIGHT), at_axles(Side.RIGHT)[1]
    seen = averaged(LARGE, held, camera)
    points = seen.points_px.copy()
    points[0, 0] -= 1.0
    moved = BoardView(seen.points_mm, points, seen.corner_sd_px)
    found = check_board(CameraProfile(LENS, camera), moved, 88.0, held.offset_mm)
    assert found.worst_mm == pytest.approx(3425.0 / 860.0, rel=1e-3)
