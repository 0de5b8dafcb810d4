"""Lens calibration: a published result, rendered boards through known lenses, and refusals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from made_boards import Darkroom, lens_views

from posewatch.camera.board_sightings import find_board
from posewatch.camera.lens_calibration import (
    FEWEST_VIEWS,
    LensView,
    calibrate_lens,
    fit_lens,
)
from posewatch.camera.opencv import cv2
from posewatch.core.boards import Board, board_named
from posewatch.core.lens_calibration import Refusal
from posewatch.core.plane import Lens, undistort
from posewatch.errors import BadInput

PICTURES = Path(__file__).parents[1] / "data" / "left_camera"
SIZE = (640, 480)
LENS = Lens(*SIZE, 610.0, 608.0, 325.3, 236.1, (-0.22, 0.12, 0.001, -0.0008, -0.03))
BOARD = board_named("lens-a4")
#: OpenCV counts from the middle of the top left pixel.
CENTRE_PX = 0.5


@pytest.fixture(scope="module")
def chessboard_views() -> list[LensView]:
    """The 9 x 6 corners, found as OpenCV's calibration example does: window 11, then 30 rounds."""
    columns, rows = np.meshgrid(np.arange(9.0), np.arange(6.0))
    points_mm = 25.0 * np.column_stack((columns.ravel(), rows.ravel()))
    views = []
    for path in sorted(PICTURES.glob("*.jpg")):
        grey = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        assert grey is not None
        there, corners = cv2.findChessboardCorners(grey, (9, 6))
        assert there, path
        fine = cv2.cornerSubPix(grey, corners, (11, 11), (-1, -1), (3, 30, 0.1))
        points_px = np.asarray(fine, np.float64).reshape(-1, 2) + CENTRE_PX
        views.append(LensView(path.name, points_mm, points_px))
    return views


def test_the_published_result_of_a_webcam(chessboard_views: list[LensView]) -> None:
    # left_intrinsics.yml of opencv-doc 4.6.0; cx and cy there count from the pixel's middle.
    assert len(chessboard_views) == 13
    fit = fit_lens(chessboard_views, SIZE, square_pixels=True)
    assert fit.lens.fx_px == fit.lens.fy_px == pytest.approx(535.91573, rel=0.002)
    assert fit.lens.cx_px == pytest.approx(342.28315 + CENTRE_PX, abs=1.0)
    assert fit.lens.cy_px == pytest.approx(235.57083 + CENTRE_PX, abs=1.0)
    assert fit.rms_px == pytest.approx(0.39259, abs=0.05)
    assert fit.lens.distortion[:2] == pytest.approx((-0.26637, -0.03859), abs=0.02)
    assert fit.view_rms_px[1] == pytest.approx(1.18205, abs=0.1)


def test_the_webcam_with_both_focal_lengths_free(chessboard_views: list[LensView]) -> None:
    fit = fit_lens(chessboard_views, SIZE)
    assert fit.lens.fx_px == pytest.approx(535.91573, rel=0.002)
    assert fit.lens.fy_px == pytest.approx(535.91573, rel=0.002)
    assert 0.1 < fit.spread.fx_px < 3.0


def test_the_webcam_view_that_does_not_fit_is_left_out(chessboard_views: list[LensView]) -> None:
    # The pictures leave two of their corners without a board, which is refused, and said.
    with pytest.raises(BadInput, match=r"does not fit the others: 1.*upper left, lower left"):
        calibrate_lens(chessboard_views, SIZE, "chessboard")


def seen(board: Board, lens: Lens, n: int, seed: int) -> list[LensView]:
    room = Darkroom(lens)
    views = []
    for k, held in enumerate(lens_views(board, lens, n, seed)):
        found = find_board(room.picture(board, held, seed=k))
        assert found is not None
        views.append(LensView(f"view {k}", found.points_mm, found.corners_px, found.edge_px))
    return views


@pytest.fixture(scope="module")
def views() -> list[LensView]:
    return seen(BOARD, LENS, 18, seed=1)


def ray_error_px(one: Lens, other: Lens) -> float:
    """Return how far apart two lenses put a ray, at most, over the picture; a shift of the
    principal point is as good as a turn of the camera and is taken out."""
    grid = np.stack(np.meshgrid(np.linspace(10, 630, 9), np.linspace(10, 470, 7)), axis=-1)
    apart = np.stack(undistort(one, grid), -1) - np.stack(undistort(other, grid), -1)
    apart -= apart.mean(axis=(0, 1))
    return float(np.abs(apart).max()) * one.fx_px


def test_a_known_lens_is_found_again(views: list[LensView]) -> None:
    found = calibrate_lens(views, SIZE, BOARD.name)
    lens = found.lens
    assert lens.fx_px == pytest.approx(LENS.fx_px, rel=0.002)
    assert lens.fy_px == pytest.approx(LENS.fy_px, rel=0.002)
    assert (lens.cx_px, lens.cy_px) == pytest.approx((LENS.cx_px, LENS.cy_px), abs=1.0)
    assert lens.distortion[0] == pytest.approx(LENS.distortion[0], abs=0.01)
    assert lens.distortion[2:4] == pytest.approx(LENS.distortion[2:4], abs=0.0005)
    assert ray_error_px(lens, LENS) < 1.0
    assert found.rms_px < 0.15
    assert (found.n_views, found.rejected, found.coverage) == (18, (), 1.0)
    assert found.n_corners == sum(len(view.points_px) for view in views)
    # The tilts that were held, to the few degrees of chance in them.
    assert found.tilt_range_deg == pytest.approx((-30, 30), abs=6)
    assert found.lean_range_deg == pytest.approx((-30, 30), abs=6)
    # The stated uncertainty is honest: errors of a few of it.
    assert abs(lens.fx_px - LENS.fx_px) < 4 * found.spread.fx_px
    assert abs(lens.cx_px - LENS.cx_px) < 4 * found.spread.cx_px


def test_a_wider_picture_and_the_other_board() -> None:
    lens = Lens(800, 448, 700.0, 700.0, 404.0, 220.0, (0.05, -0.1, 0.0, 0.0, 0.0))
    found = calibrate_lens(seen(board_named("lens-a3"), lens, 15, seed=2), (800, 448), "lens-a3")
    assert found.lens.fx_px == pytest.approx(700.0, rel=0.005)
    assert found.lens.fy_px == pytest.approx(700.0, rel=0.005)
    assert ray_error_px(found.lens, lens) < 1.5


def test_a_print_scale_changes_no_lens(views: list[LensView]) -> None:
    smaller = [replace(view, points_mm=0.98 * view.points_mm) for view in views]
    one, other = (calibrate_lens(v, SIZE, BOARD.name).lens for v in (views, smaller))
    assert other.fx_px == pytest.approx(one.fx_px, rel=1e-5)


def test_the_middle_moves_with_the_count_of_pixels(views: list[LensView]) -> None:
    moved = [replace(view, points_px=view.points_px - CENTRE_PX) for view in views]
    one, other = (calibrate_lens(v, SIZE, BOARD.name).lens for v in (views, moved))
    assert one.cx_px - other.cx_px == pytest.approx(CENTRE_PX, abs=0.01)
    assert one.cy_px - other.cy_px == pytest.approx(CENTRE_PX, abs=0.01)
    assert one.fx_px == pytest.approx(other.fx_px, rel=1e-4)


def refusals(views: list[LensView]) -> dict[str, Refusal]:
    return {one.name: one.refusal for one in calibrate_lens(views, SIZE, BOARD.name).rejected}


def few_corners(view: LensView) -> LensView:
    return replace(view, points_mm=view.points_mm[:8], points_px=view.points_px[:8])


def one_line(view: LensView) -> LensView:
    points_mm, points_px = (np.repeat(p[:3], 5, axis=0) for p in (view.points_mm, view.points_px))
    return replace(view, points_mm=points_mm, points_px=points_px)


def blurred(view: LensView) -> LensView:
    return replace(view, edge_px=4.5)


def wrong(view: LensView) -> LensView:
    rng = np.random.default_rng(3)
    return replace(view, points_px=view.points_px + rng.normal(0, 1.0, view.points_px.shape))


@pytest.mark.parametrize(
    ("spoil", "refusal"),
    [
        (few_corners, Refusal.FEW_CORNERS),
        (one_line, Refusal.FEW_CORNERS),
        (blurred, Refusal.BLURRED),
        (wrong, Refusal.UNLIKE),
    ],
)
def test_a_useless_view_is_left_out_with_its_reason(
    views: list[LensView], spoil: Callable[[LensView], LensView], refusal: Refusal
) -> None:
    spoilt = [*views[:5], spoil(views[5]), *views[6:]]
    assert refusals(spoilt) == {"view 5": refusal}


def test_the_same_view_twice_counts_once(views: list[LensView]) -> None:
    again = replace(views[4], name="again", points_px=views[4].points_px + 1.0)
    assert refusals([*views, again]) == {"again": Refusal.SAME}


def test_too_few_views_say_how_many_are_missing(views: list[LensView]) -> None:
    with pytest.raises(BadInput, match=r"7 views are of use.*Add at least 3 more views"):
        calibrate_lens(views[: FEWEST_VIEWS - 3], SIZE, BOARD.name)


def test_no_views_at_all() -> None:
    with pytest.raises(BadInput, match=r"0 views are of use.*Add at least 10 more views"):
        calibrate_lens([], SIZE, BOARD.name)


def test_a_picture_seen_in_part_says_where_the_board_is_missing(views: list[LensView]) -> None:
    right = []
    for view in views:
        inside = (view.points_px[:, 0] > 200) & (view.points_px[:, 1] > 150)
        if inside.sum() >= 12:
            points = (view.points_mm[inside], view.points_px[inside])
            right.append(LensView(view.name, *points, view.edge_px))
    assert len(right) >= FEWEST_VIEWS
    with pytest.raises(BadInput, match=r"corner upper left, upper right, lower left; .*% of it"):
        calibrate_lens(right, SIZE, BOARD.name)


def test_boards_never_tilted_are_refused() -> None:
    room = Darkroom(LENS)
    flat = []
    for k, held in enumerate(lens_views(BOARD, LENS, 12, seed=4)):
        upright = replace(held, tilt_deg=held.tilt_deg / 20, lean_deg=held.lean_deg / 20)
        found = find_board(room.picture(BOARD, upright, seed=k))
        assert found is not None
        flat.append(LensView(f"view {k}", found.points_mm, found.corners_px, found.edge_px))
    with pytest.raises(BadInput, match=r"tilted to the left and to the right.*tilted forwards"):
        calibrate_lens(flat, SIZE, BOARD.name)
