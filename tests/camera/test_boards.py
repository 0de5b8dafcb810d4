"""Our boards are OpenCV's ChArUco boards."""

from __future__ import annotations

import numpy as np
import pytest

from posewatch.camera.boards import DICTIONARY, black_mm
from posewatch.camera.opencv import cv2
from posewatch.core.boards import BOARDS, Board

PX_PER_MM = 10


def opencv_board(board: Board) -> cv2.aruco.CharucoBoard:
    return cv2.aruco.CharucoBoard(
        (board.squares_across, board.squares_up),
        board.square_mm,
        board.marker_mm,
        DICTIONARY,
        np.array(board.marker_ids),
    )


def from_top_left(board: Board, places: np.ndarray) -> np.ndarray:
    return np.array((board.width_mm / 2, board.height_mm / 2)) + places * (1, -1)


@pytest.mark.parametrize("board", BOARDS, ids=lambda b: b.name)
def test_corners_and_markers_are_where_opencv_has_them(board: Board) -> None:
    theirs = opencv_board(board)
    corners = np.asarray(theirs.getChessboardCorners())[:, :2]
    markers = np.asarray(theirs.getObjPoints())[:, :, :2]
    assert from_top_left(board, board.corners_mm()) == pytest.approx(corners, abs=1e-4)
    assert from_top_left(board, board.markers_mm()) == pytest.approx(markers, abs=1e-4)
    assert list(theirs.getIds()) == list(board.marker_ids)


@pytest.mark.parametrize("board", BOARDS, ids=lambda b: b.name)
def test_what_is_black_is_what_opencv_draws(board: Board) -> None:
    size = (round(board.width_mm * PX_PER_MM), round(board.height_mm * PX_PER_MM))
    theirs = np.asarray(opencv_board(board).generateImage(size))
    ours = np.full(size[::-1], 255, np.uint8)
    boxes = black_mm(board)
    for left, bottom, right, top in boxes:
        (x0, y0), (x1, y1) = from_top_left(board, np.array(((left, top), (right, bottom))))
        columns = slice(round(x0 * PX_PER_MM), round(x1 * PX_PER_MM))
        ours[round(y0 * PX_PER_MM) : round(y1 * PX_PER_MM), columns] = 0
    # Rims may be a pixel (0.1 mm) apart, for rounding: rims wider than that are a difference.
    apart = cv2.erode((ours != theirs).astype(np.uint8), np.ones((3, 3)))
    assert not apart.any()
    area_mm2 = float(((boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])).sum())
    assert area_mm2 == pytest.approx((theirs == 0).sum() / PX_PER_MM**2, rel=0.005)
