"""The boards as OpenCV knows them: the marker dictionary, and what of a board is black."""

from __future__ import annotations

import numpy as np

from posewatch.camera.opencv import cv2
from posewatch.core.boards import Board
from posewatch.core.records import FloatArray

#: 4 x 4 cells in a black rim of one cell: the coarsest markers there are, for reading from afar.
MARKER_CELLS = 6
DICTIONARY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100)


def black_mm(board: Board) -> FloatArray:
    """Return (n, 4) rectangles that are black: left, bottom, right, top, mm from the middle.

    They do not overlap, and cover the black squares and the black cells of the markers.
    """
    found = [
        _square_mm(board, column, row)
        for row in range(board.squares_up)
        for column in range(board.squares_across)
        if board.is_black(column, row)
    ]
    cell = board.marker_mm / MARKER_CELLS
    for number, corners in zip(board.marker_ids, board.markers_mm(), strict=True):
        left, top = corners[0]
        picture = cv2.aruco.generateImageMarker(DICTIONARY, number, MARKER_CELLS)
        for row, cells in enumerate(np.asarray(picture) == 0):
            for start, end in _runs(cells.tolist()):
                found.append(
                    (
                        left + start * cell,
                        top - (row + 1) * cell,
                        left + end * cell,
                        top - row * cell,
                    )
                )
    return np.array(found)


def _square_mm(board: Board, column: int, row: int) -> tuple[float, float, float, float]:
    side = board.square_mm
    left = column * side - board.width_mm / 2
    top = board.height_mm / 2 - row * side
    return left, top - side, left + side, top


def _runs(cells: list[bool]) -> list[tuple[int, int]]:
    """Return where runs of black cells begin and end."""
    edges = [False, *cells, False]
    turns = [k for k in range(len(cells) + 1) if edges[k] != edges[k + 1]]
    return list(zip(turns[::2], turns[1::2], strict=True))
