"""Laying a bike board's whole print on the picture, for corners far finer than one by one.

On the bike a square is 15 to 30 pixels wide: a corner alone is found to 0.15 to 0.3 pixels, all
edges of the print together give it to 0.03 to 0.05 (measured on rendered boards with noise). The
print is matched by its likeness (Evangelidis and Psarakis 2008, OpenCV's ``findTransformECC``),
which brightness and contrast leave alone. A bike board is small in the picture: the lens bends it
by less than that. Lens boards fill the picture and are not laid on.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from posewatch.camera.boards import black_mm
from posewatch.camera.opencv import cv2
from posewatch.core.boards import MIDDLE_DISC_MM, Board
from posewatch.core.records import FloatArray

#: White paper about the squares that is laid on too; beyond it come bar, arrow and words.
PAPER_MM = 3.0
#: The print is drawn a little coarser than the picture, first smoothed widely to catch, then not.
COARSENESS, SMOOTHED_PX = 0.7, (5, 1)
FINE = 8
FEWEST_CORNERS = 4
#: Corners that end further from where they were found alone, or a likeness below this: not laid on.
FAR_PX, LEAST_LIKENESS = 1.5, 0.8

_RULE = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 50, 1e-5)


def lay_on(
    picture: NDArray[np.uint8], board: Board, ids: NDArray[np.int64], corners: FloatArray
) -> FloatArray | None:
    """Return (board.n_corners, 2) corners, px as OpenCV counts; None = it does not fit.

    ids, corners: those found one by one.
    """
    if len(ids) < FEWEST_CORNERS:
        return None
    plane = _homography(board.corners_mm(ids), corners)
    if plane is None:
        return None
    px_per_mm = COARSENESS * float(np.sqrt(abs(np.linalg.det(_slope(plane)))))
    print_px, to_mm = _drawn(board, px_per_mm)
    warp = plane @ to_mm
    everywhere = np.full_like(picture, 255)
    likeness = 0.0
    for smoothed in SMOOTHED_PX:
        start = (warp / warp[2, 2]).astype(np.float32)
        try:
            likeness, found = cv2.findTransformECC(
                print_px, picture, start, cv2.MOTION_HOMOGRAPHY, _RULE, everywhere, smoothed
            )
        except cv2.error:
            return None  # it did not settle
        warp = np.asarray(found, np.float64)
    full = warp @ np.linalg.inv(to_mm)
    laid = np.asarray(cv2.perspectiveTransform(board.corners_mm()[None], full), np.float64)[0]
    away = np.linalg.norm(laid[ids] - corners, axis=1).max()
    return laid if likeness >= LEAST_LIKENESS and away <= FAR_PX else None


def _homography(places: FloatArray, seen: FloatArray) -> FloatArray | None:
    found, _ = cv2.findHomography(places, seen)
    return None if found is None else np.asarray(found, np.float64)


def _slope(plane: FloatArray) -> FloatArray:
    """Return (2, 2) px a mm at the board's middle."""
    seen = plane[:2, 2] / plane[2, 2]
    slope: FloatArray = (plane[:2, :2] - np.outer(seen, plane[2, :2])) / plane[2, 2]
    return slope


def _drawn(board: Board, px_per_mm: float) -> tuple[NDArray[np.uint8], FloatArray]:
    """Return the print as a picture, and (3, 3) from its px (OpenCV's count) to board mm."""
    width, height = (
        int(np.ceil((side + 2 * PAPER_MM) * px_per_mm))
        for side in (board.width_mm, board.height_mm)
    )
    fine = np.full((height * FINE, width * FINE), 255, np.uint8)
    places = black_mm(board) * px_per_mm
    columns = np.rint((places[:, (0, 2)] + width / 2) * FINE).astype(int)
    rows = np.rint((height / 2 - places[:, (3, 1)]) * FINE).astype(int)
    for (left, right), (top, bottom) in zip(columns, rows, strict=True):
        fine[top:bottom, left:right] = 0
    middle = (width * FINE // 2, height * FINE // 2)
    cv2.circle(fine, middle, round(MIDDLE_DISC_MM * px_per_mm * FINE), 255, -1)
    drawn = cv2.resize(fine, (width, height), interpolation=cv2.INTER_AREA)
    to_mm = np.array(
        (
            (1 / px_per_mm, 0.0, (0.5 - width / 2) / px_per_mm),
            (0.0, -1 / px_per_mm, (height / 2 - 0.5) / px_per_mm),
            (0.0, 0.0, 1.0),
        )
    )
    return np.asarray(drawn, np.uint8), to_mm
