"""Finding a printed board in a picture: which board, and where its corners are.

Markers tell the board and about where its corners must be; each corner is then found to a fraction
of a pixel where four squares meet, and is only believed if black and white lie about it as on the
print. Boards far away are looked for in the picture enlarged.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from posewatch.camera.board_alignment import lay_on
from posewatch.camera.boards import DICTIONARY
from posewatch.camera.opencv import cv2
from posewatch.core.boards import BOARDS, Board
from posewatch.core.records import FloatArray
from posewatch.core.sources import Picture

#: OpenCV counts from the middle of the top left pixel, we from its outer corner.
CENTRE_PX = 0.5
#: Enlarged pictures are no wider than this, for time's sake.
WIDEST_PX = 2600
ENLARGED = (1, 2, 4)
#: Markers this wide (in the picture looked at) are read as well as they will ever be.
EASY_MARKER_PX = 28.0
#: Corners are sought this far about where the markers say, in squares.
SEARCH_SQUARES = 0.15
#: Least difference between black and white at a corner, grey levels of 255.
LEAST_CONTRAST = 20.0
NEAREST_MARKERS = 4
#: Markers must lie as on the print to this share of their width; the lens bends them less.
FEWEST_MARKERS, AGREE_MARKERS = 2, 0.25
#: Where black and white are looked at, from the corner along the diagonals, in squares.
BLACK_SQUARES = 0.25
#: How far across an edge is looked, in white margins about a marker, and how finely.
EDGE_MARGINS, EDGE_STEP_PX = 1.5, 0.25

#: Random error of a corner, each way: found alone; with the whole print laid on the picture.
#: Measured on rendered boards with noise (0.1 to 0.25, 0.02 to 0.035).
ALONE_SD_PX, LAID_ON_SD_PX = 0.2, 0.04

_Grey = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class BoardSighting:
    """A board in one picture.

    corner_ids: (n,) numbers of the corners found, rising. corners_px: (n, 2) image px.
    corner_sd_px: their random error, each way. n_markers: how many were read. edge_px: how wide
    the step from black to white is (the whole step over its steepest slope), 1 to 2.5 in a sharp
    picture; the worse of both directions.
    """

    board: Board
    corner_ids: NDArray[np.int64]
    corners_px: FloatArray
    corner_sd_px: float
    n_markers: int
    edge_px: float

    @property
    def points_mm(self) -> FloatArray:
        """(n, 2) places of the corners found, mm from the board's middle, right and up."""
        return self.board.corners_mm(self.corner_ids)


@dataclass(frozen=True, slots=True, eq=False)
class _Markers:
    """Markers of one board, corners in px of the enlarged picture as OpenCV counts."""

    board: Board
    numbers: NDArray[np.int64]
    corners: FloatArray
    scale: int

    @property
    def width_px(self) -> float:
        sides = self.corners - np.roll(self.corners, 1, axis=1)
        return float(np.median(np.linalg.norm(sides, axis=2)))


def find_board(rgb: Picture, boards: Iterable[Board] = BOARDS) -> BoardSighting | None:
    """Return the board that most is seen of; None = none, or not one corner of it.

    boards: those that it may be, of any print scale.
    """
    grey: _Grey = np.asarray(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), np.uint8)
    markers = _read_markers(grey, tuple(boards))
    if markers is None:
        return None
    picture = _enlarged(grey, markers.scale)
    rough, square = _rough_corners(markers)
    corners = _refined(picture, rough, square, _margin(markers.board) * square)
    steps = _squares_px(markers.board, rough)
    good = _is_corner(picture, markers.board, corners, steps)
    if not good.any():
        return None
    edge_px = _edge_width_px(picture, markers.board, corners[good], steps[:, good])
    ids = np.flatnonzero(good)
    found = (corners[good] + CENTRE_PX) / markers.scale
    sd_px = ALONE_SD_PX
    if markers.board.held_on_bike:
        laid = lay_on(grey, markers.board, ids, found - CENTRE_PX)
        if laid is not None:
            ids, found, sd_px = np.arange(len(laid)), laid + CENTRE_PX, LAID_ON_SD_PX
    numbers = len(markers.numbers)
    return BoardSighting(markers.board, ids, found, sd_px, numbers, edge_px / markers.scale)


def _enlarged(grey: _Grey, scale: int) -> _Grey:
    if scale == 1:
        return grey
    bigger = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
    return np.asarray(bigger, np.uint8)


def _read_markers(grey: _Grey, boards: tuple[Board, ...]) -> _Markers | None:
    """Return the markers of the board that shows most of them, at the scale that reads most."""
    settings = cv2.aruco.DetectorParameters()
    # Cells are a few pixels wide and smeared at their rims: look at their middles.
    settings.perspectiveRemovePixelPerCell = 8
    settings.perspectiveRemoveIgnoredMarginPerCell = 0.3
    detector = cv2.aruco.ArucoDetector(DICTIONARY, settings)
    best: _Markers | None = None
    for scale in ENLARGED:
        if scale > 1 and scale * grey.shape[1] > WIDEST_PX:
            break
        found, numbers, _ = detector.detectMarkers(_enlarged(grey, scale))
        if numbers is None:
            continue
        seen = np.asarray(numbers, np.int64).ravel()
        corners = np.asarray(found, np.float64).reshape(-1, 4, 2)
        for board in boards:
            own = np.isin(seen, board.marker_ids)
            own[own] = _agreeing(board, seen[own], corners[own])
            if own.sum() >= (FEWEST_MARKERS if best is None else len(best.numbers)):
                best = _Markers(board, seen[own], corners[own], scale)
        if best is not None and best.width_px * scale / best.scale >= EASY_MARKER_PX:
            break
    return best


def _agreeing(board: Board, numbers: NDArray[np.int64], corners: FloatArray) -> NDArray[np.bool_]:
    """Tell which markers lie as on one board: a cell of clutter may look like a marker.

    Fewer than two that agree are none.
    """
    none = np.zeros(len(numbers), bool)
    if len(numbers) < FEWEST_MARKERS:
        return none
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)
    plane, fits = cv2.findHomography(
        board.markers_mm()[numbers - board.first_id].reshape(-1, 2),
        corners.reshape(-1, 2),
        cv2.RANSAC,
        AGREE_MARKERS * float(np.median(sides)),
    )
    if plane is None:
        return none
    whole = np.asarray(np.all(np.reshape(fits, (-1, 4)), axis=1), bool)
    return whole if whole.sum() >= FEWEST_MARKERS else none


def _margin(board: Board) -> float:
    """Return the white margin about a marker, in squares."""
    return (1.0 - board.marker_mm / board.square_mm) / 2


def _rough_corners(markers: _Markers) -> tuple[FloatArray, FloatArray]:
    """Return (n, 2) where the markers nearest to each corner put it, and (n,) a square's side."""
    board = markers.board
    marks_mm = board.markers_mm()[markers.numbers - board.first_id]
    middles_mm = marks_mm.mean(axis=1)
    places = board.corners_mm()
    rough, square = np.empty_like(places), np.empty(len(places))
    for k, place in enumerate(places):
        distance = np.linalg.norm(middles_mm - place, axis=1)
        near = np.argsort(distance, kind="stable")[:NEAREST_MARKERS]
        plane, _ = cv2.findHomography(
            marks_mm[near].reshape(-1, 2), markers.corners[near].reshape(-1, 2)
        )
        side = board.square_mm / 2
        cross = place + np.array(((0, 0), (side, 0), (-side, 0), (0, side), (0, -side)))
        seen = np.asarray(cv2.perspectiveTransform(cross[None], plane), np.float64)[0]
        rough[k] = seen[0]
        square[k] = min(np.linalg.norm(seen[1] - seen[2]), np.linalg.norm(seen[3] - seen[4]))
    return rough, square


def _refined(
    picture: _Grey, rough: FloatArray, square: FloatArray, margin: FloatArray
) -> FloatArray:
    """Return the corners to a fraction of a pixel; the window stays clear of the markers."""
    corners = rough.copy()
    height, width = picture.shape
    rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 50, 0.005)
    for k, half in enumerate(np.maximum(2, np.rint(margin)).astype(int)):
        x, y = rough[k]
        if not (half < x < width - 1 - half and half < y < height - 1 - half):
            corners[k] = np.nan
            continue
        start = rough[k].astype(np.float32).reshape(1, 1, 2)
        found = cv2.cornerSubPix(picture, start, (int(half), int(half)), (-1, -1), rule)
        corners[k] = np.asarray(found, np.float64).ravel()
    far = np.linalg.norm(corners - rough, axis=1) > np.maximum(1.5, SEARCH_SQUARES * square)
    corners[far] = np.nan
    return corners


def _squares_px(board: Board, corners: FloatArray) -> FloatArray:
    """Return (2, n, 2) steps of one square to the right and down the print, at each corner."""
    grid = corners.reshape(board.squares_up - 1, board.squares_across - 1, 2)
    down_then_right = np.asarray(np.gradient(grid, axis=(0, 1)), np.float64)
    return down_then_right[::-1].reshape(2, -1, 2)


def _is_corner(
    picture: _Grey, board: Board, corners: FloatArray, steps: FloatArray
) -> NDArray[np.bool_]:
    """Tell which corners have black and white about them as on the print."""
    good: NDArray[np.bool_] = np.isfinite(corners[:, 0])
    there_and_back = np.array(((1.0,), (-1.0,)))
    for k in map(int, np.flatnonzero(good)):
        right, down = steps[:, k]
        row, column = divmod(k, board.squares_across - 1)
        # Of the four squares about the corner, the one at its top left has these numbers.
        black, white = right + down, right - down
        if not board.is_black(column, row):
            black, white = white, black
        dark = _grey_at(picture, corners[k] + there_and_back * black * BLACK_SQUARES)
        light = _grey_at(picture, corners[k] + there_and_back * white * _margin(board) / 2)
        good[k] = light.min() - dark.max() >= LEAST_CONTRAST
    return good


def _edge_width_px(picture: _Grey, board: Board, corners: FloatArray, steps: FloatArray) -> float:
    """Return the width of the step from black to white, across and along; the worse of both."""
    contrasts: list[float] = []
    slopes: list[float] = []
    # Halfway between two corners a black and a white square meet along a line.
    for along, across in (steps, steps[::-1]):
        found = []
        for corner, halfway, square in zip(corners, along / 2, across, strict=True):
            side = float(np.linalg.norm(square))
            reach = EDGE_MARGINS * _margin(board) * side
            places = np.arange(-reach, reach + EDGE_STEP_PX, EDGE_STEP_PX)
            line = _grey_at(picture, corner + halfway + places[:, None] * square / side)
            contrasts.append(float(np.ptp(line)))
            found.append(float(np.abs(np.diff(line)).max()) / EDGE_STEP_PX)
        slopes.append(float(np.median(found)))
    # The whole contrast is of those edges that are sharp: smeared ones never reach white.
    return float(np.quantile(contrasts, 0.9)) / max(min(slopes), 1e-9)


def _grey_at(picture: _Grey, places: FloatArray) -> FloatArray:
    """Return grey levels (n,) at (n, 2) places, as OpenCV counts, between pixels linearly."""
    spots = places.astype(np.float32)
    return np.asarray(
        cv2.remap(
            picture,
            np.ascontiguousarray(spots[:, 0]),
            np.ascontiguousarray(spots[:, 1]),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        ),
        np.float64,
    ).ravel()
