"""The invented room: wall, boarded floor, mat, window, picture and a shelf."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.bike import FLOOR_M
from demo_clips.render.shapes import BOARDS, LIT, WALL, Mesh, box, join, make_mesh, rgb

Array = NDArray[np.float64]

WALL_BEHIND_M = 1.5
HALF_WIDTH_M = 9.0
SHELF_SEED = 3


def _shelf() -> list[Mesh]:
    """A low shelf with books, at the rear of the room."""
    wood = rgb("#7a5a3c")
    behind = -WALL_BEHIND_M + 0.16
    middle = 1.62
    levels = (FLOOR_M + 0.02, FLOOR_M + 0.42, FLOOR_M + 0.82)
    parts = [box([middle, level, behind], [0.42, 0.012, 0.15], wood) for level in levels]
    parts += [
        box([middle + edge, FLOOR_M + 0.42, behind], [0.012, 0.42, 0.15], wood)
        for edge in (-0.42, 0.42)
    ]
    draw = np.random.default_rng(SHELF_SEED)
    for level in levels[:2]:
        left = middle - 0.40
        while left < middle + 0.36:
            half_width, half_height = draw.uniform(0.012, 0.03), draw.uniform(0.10, 0.16)
            centre = [left + half_width, level + 0.012 + half_height, behind + 0.02]
            colour = draw.uniform(0.15, 0.65, 3)
            parts.append(box(centre, [half_width, half_height, 0.10], colour))
            left += 2 * half_width + draw.uniform(0, 0.02)
    return parts


def room(camera_side: str) -> Mesh:
    """The room with its wall on the far side of the bike from the camera ("R" or "L")."""
    back = -WALL_BEHIND_M
    near, half = 6.0, HALF_WIDTH_M
    wall = make_mesh(
        [[-half, FLOOR_M, back], [half, FLOOR_M, back], [half, 3.2, back], [-half, 3.2, back]],
        np.tile([0.0, 0.0, 1.0], (4, 1)),
        [(0, 1, 2), (0, 2, 3)],
        rgb("#c9c6be"),
        WALL,
    )
    floor = make_mesh(
        [
            [-half, FLOOR_M, near],
            [half, FLOOR_M, near],
            [half, FLOOR_M, back],
            [-half, FLOOR_M, back],
        ],
        np.tile([0.0, 1.0, 0.0], (4, 1)),
        [(0, 1, 2), (0, 2, 3)],
        rgb("#8b7a66"),
        BOARDS,
    )
    on_wall = back + 0.02
    parts = [
        wall,
        floor,
        box([0, FLOOR_M + 0.05, back + 0.01], [half, 0.05, 0.012], rgb("#e8e6e0")),
        box([0.05, FLOOR_M + 0.002, 0], [1.0, 0.003, 0.45], rgb("#3a3d42")),
        box([-1.35, 1.05, on_wall], [0.45, 0.6, 0.02], rgb("#f4f2ee")),
        box([-1.35, 1.05, on_wall + 0.015], [0.40, 0.55, 0.01], rgb("#bcd3e6"), LIT),
        box([1.25, 1.15, on_wall], [0.33, 0.22, 0.015], rgb("#2c2c2c")),
        box([1.25, 1.15, on_wall + 0.017], [0.30, 0.19, 0.004], rgb("#7f9a8a")),
        *_shelf(),
    ]
    whole = join(parts)
    return whole if camera_side == "R" else whole.mirrored()


# Seen from the square camera it hides what is below the saddle, from behind the rear wheel to
# before the rider's toes; hands and bar are seen beside it.
SCREEN_M = ((-0.70, 0.30), (FLOOR_M, 0.735))  # from and to: forward, up
SCREEN_BEFORE_M = 0.55


def screen(camera_side: str) -> Mesh:
    """A board that stands between the camera and the bike."""
    (back, front), (foot, top) = SCREEN_M
    board = box(
        [(back + front) / 2, (foot + top) / 2, SCREEN_BEFORE_M],
        [(front - back) / 2, (top - foot) / 2, 0.01],
        rgb("#8d8577"),
    )
    return board if camera_side == "R" else board.mirrored()
