"""A printed board as a picture and as a sheet in the scene."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.shapes import Mesh, printed_sheet
from posewatch.camera.boards import black_mm
from posewatch.core.boards import BAR_MM, MIDDLE_DISC_MM, Board

Array = NDArray[np.float64]
Image = NDArray[np.uint8]

TEXELS_PER_MM = 4
PAPER_WHITE, INK_BLACK = 235.0, 22.0  # no print is pure white and black
BAR_BREADTH_MM = 4.0
BESIDE_MM = 12.0  # from the squares to the middle of bar and arrow
ARROW_MM, ARROW_FOOT_MM = 30.0, 90.0  # its length, and where it begins above the middle
ARROW_SHAFT_MM, ARROW_HEAD_MM = 3.0, 10.0
RING_MM = 2.0


def _covered(start_mm: float, end_mm: float, edges_mm: Array) -> Array:
    """Share of each interval between the rising edges that lies between start and end."""
    within = np.clip(edges_mm, start_mm, end_mm)
    shares: Array = np.diff(within) / np.diff(edges_mm)
    return shares


@cache
def board_picture(board: Board) -> Image:
    """(height, width, 3) the whole sheet, its edges to a fraction of a texel."""
    width, height = board.paper.width_mm, board.paper.height_mm
    columns_mm = np.arange(round(width * TEXELS_PER_MM) + 1) / TEXELS_PER_MM - width / 2
    rows_mm = np.arange(round(height * TEXELS_PER_MM) + 1) / TEXELS_PER_MM - height / 2
    ink = np.zeros((len(rows_mm) - 1, len(columns_mm) - 1))  # first row = lower edge
    beside = board.width_mm / 2 + BESIDE_MM
    bar = (-beside - BAR_BREADTH_MM / 2, -BAR_MM / 2, -beside + BAR_BREADTH_MM / 2, BAR_MM / 2)
    for left, bottom, right, top in [*black_mm(board), bar, *_arrow_mm(board, beside)]:
        ink += np.outer(_covered(bottom, top, rows_mm), _covered(left, right, columns_mm))
    if board.held_on_bike:
        distance = np.hypot(
            (rows_mm[:-1] + rows_mm[1:])[:, None] / 2, (columns_mm[:-1] + columns_mm[1:]) / 2
        )
        ink[distance < MIDDLE_DISC_MM] = 0.0
        ink[np.abs(distance - RING_MM) < 0.5 / TEXELS_PER_MM] = 1.0
    grey = PAPER_WHITE + (INK_BLACK - PAPER_WHITE) * np.clip(ink, 0.0, 1.0)
    return np.repeat(np.rint(grey[::-1, :, None]).astype(np.uint8), 3, axis=2)


def _arrow_mm(board: Board, beside_mm: float) -> list[tuple[float, float, float, float]]:
    """Rectangles of the arrow that has to point up: its shaft, and its head in steps."""
    if not board.held_on_bike:
        return []
    neck = ARROW_FOOT_MM + ARROW_MM - ARROW_HEAD_MM
    steps = 4 * round(ARROW_HEAD_MM)
    half = ARROW_SHAFT_MM / 2
    parts = [(beside_mm - half, ARROW_FOOT_MM, beside_mm + half, neck)]
    for step in range(steps):
        low = neck + ARROW_HEAD_MM * step / steps
        half = ARROW_HEAD_MM / 2 * (1 - (step + 0.5) / steps)
        parts.append((beside_mm - half, low, beside_mm + half, low + ARROW_HEAD_MM / steps))
    return parts


def board_sheet(board: Board, middle_m: Array, right: Array, up: Array) -> Mesh:
    """The sheet with its middle at a place; ``right`` and ``up`` are unit vectors of its print."""
    half_width, half_height = board.paper.width_mm / 2000, board.paper.height_mm / 2000
    return printed_sheet(middle_m, right * half_width, up * half_height)
