"""How far a board's squares, measured through a saved profile, are off their true size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posewatch.camera.bike_view import BoardView, flat_scale_px_per_mm
from posewatch.core.plane import CameraProfile, plane_map

#: Squares that are off by more than this share are told.
TOLD_SHARE = 0.01


@dataclass(frozen=True, slots=True)
class BoardCheck:
    """What a board looks like through a profile.

    square_mm, found_mm: a square's true side, and the one found (the size of all corners together).
    worst_mm: the side of a square that is furthest off. n_sides: how many sides were measured.
    """

    square_mm: float
    found_mm: float
    worst_mm: float
    n_sides: int

    @property
    def share(self) -> float:
        """By how much too large the squares are found, 0 = true."""
        return self.found_mm / self.square_mm - 1.0


def check_board(
    profile: CameraProfile, board: BoardView, square_mm: float, offset_mm: float
) -> BoardCheck:
    """Measure a board that lies parallel to the bike's middle plane, offset_mm towards the camera.

    NaN where a corner's ray does not meet that plane.
    """
    depths = np.full(len(board.points_px), offset_mm)
    found = plane_map(profile).to_bike_mm(board.points_px, depths)
    # Turned upside down and, on the left, mirrored: sizes do not care.
    on_board = board.points_mm if profile.view.side == "right" else board.points_mm * (-1.0, 1.0)
    scale = flat_scale_px_per_mm(on_board, found * (1.0, -1.0))
    apart = np.linalg.norm(board.points_mm[:, None] - board.points_mm[None], axis=-1)
    first, second = np.nonzero(np.triu(np.abs(apart - square_mm) < 0.01 * square_mm))
    sides = np.linalg.norm(found[first] - found[second], axis=-1)
    off = sides - square_mm
    worst = float(off[np.argmax(np.abs(off))]) if len(off) else float("nan")
    return BoardCheck(square_mm, scale * square_mm, worst, len(sides))
