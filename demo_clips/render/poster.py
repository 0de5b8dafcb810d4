"""A poster of a cyclist on the wall: the demo rider himself, drawn before a made-up landscape."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.bike import FLOOR_M, pedal_pitches, still_parts, turning_parts
from demo_clips.render.camera import SideCamera
from demo_clips.render.dress import DressedBody
from demo_clips.render.kit import OTHER_JERSEY
from demo_clips.render.light import SOFT
from demo_clips.render.renderer import Renderer
from demo_clips.render.rider import Rider
from demo_clips.render.room import WALL_BEHIND_M
from demo_clips.render.shapes import LIT, Mesh, box, ellipsoid, join, printed_sheet, rgb

Image = NDArray[np.uint8]

# What of the drawn scene the poster shows, and as large as life.
CAMERA = replace(SideCamera("R"), width_px=600, height_px=640, focal_px=1160.0)
SHOWN_M = np.array([CAMERA.width_px, CAMERA.height_px]) * CAMERA.mm_per_px / 1000
MIDDLE_M = (0.03, 1.02)  # on the wall, forward and up
CRANK_DEG = 75.0


def _landscape() -> Mesh:
    """Sky, two hills and a road."""
    return join(
        [
            box([0.0, 2.0, -6.0], [9.0, 5.0, 0.01], rgb("#a9cdea"), LIT),
            ellipsoid([-1.8, FLOOR_M, -5.0], [3.2, 1.5, 0.6], rgb("#5d8a54"), lowest=0.0),
            ellipsoid([2.4, FLOOR_M, -4.5], [2.6, 1.0, 0.6], rgb("#74a05f"), lowest=0.0),
            box([0.0, FLOOR_M - 0.01, -1.0], [9.0, 0.01, 4.0], rgb("#75777c")),
        ]
    )


def poster_picture(rider: Rider) -> Image:
    """(height, width, 3) what the poster shows."""
    posture = rider.neutral_posture(CRANK_DEG)
    dress = DressedBody(rider.body, OTHER_JERSEY)
    turning = turning_parts(rider, CRANK_DEG, pedal_pitches(rider, posture))
    still = join([_landscape(), still_parts(rider, np.zeros(3))])
    with Renderer(CAMERA, SOFT, still) as renderer:
        return renderer.frame([(turning, None), (dress.posed(rider.pose(posture)), OTHER_JERSEY)])


def poster(camera_side: str) -> Mesh:
    """The sheet on the wall that the camera ("R" or "L") sees, the rider facing the same way."""
    sign = 1.0 if camera_side == "R" else -1.0
    half_width, half_height = SHOWN_M / 2
    on_wall = np.array([*MIDDLE_M, -(WALL_BEHIND_M - 0.003) * sign])
    return printed_sheet(on_wall, [half_width * sign, 0.0, 0.0], [0.0, half_height, 0.0])
