"""Boards held at a bike beside a known camera: their corners with the errors to expect."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from posewatch.camera.bike_view import (
    CRANK_OFFSET_MM,
    FRONT_OFFSET_MM,
    REAR_OFFSET_MM,
    BoardView,
)
from posewatch.core.boards import Board
from posewatch.core.plane import BikeView, Lens, project_px, view_from_angles
from posewatch.core.records import FloatArray, Side

#: The demo clips' camera.
LENS = Lens(640, 480, 860.0, 860.0, 320.0, 240.0)
#: A middling road bike: axles from the crank axis, mm.
FRONT_MM, REAR_MM = (597.0, 72.0), (-404.0, 72.0)
WHEELBASE_MM = 1001.0
AXLES = (FRONT_MM, (0.0, 0.0), REAR_MM)
OFFSETS_MM = (FRONT_OFFSET_MM, CRANK_OFFSET_MM, REAR_OFFSET_MM)

#: Noise of a corner in each of 60 pictures, and what is the same in all of them, px.
NOISE_PX, COMMON_PX, N_FRAMES = 0.15, 0.05, 60


@dataclass(frozen=True)
class HeldAtBike:
    """How one board is held: where, turned to the left as the camera sees it, and tilted."""

    side: Side
    centre_mm: tuple[float, float]
    offset_mm: float
    turned_deg: float = 0.0
    tilt_along_deg: float = 0.0
    tilt_up_deg: float = 0.0

    def axes(self) -> FloatArray:
        """(3, 3) columns: the board's right, up and out of the print, in the bike frame."""
        turn, along, up = np.radians((self.turned_deg, self.tilt_along_deg, self.tilt_up_deg))
        cos, sin = np.cos((turn, along, up)), np.sin((turn, along, up))
        in_plane = np.array(((cos[0], -sin[0], 0), (sin[0], cos[0], 0), (0, 0, 1)))
        about_up = np.array(((cos[1], 0, -sin[1]), (0, 1, 0), (sin[1], 0, cos[1])))
        about_level = np.array(((1, 0, 0), (0, cos[2], -sin[2]), (0, sin[2], cos[2])))
        ahead = 1.0 if self.side is Side.RIGHT else -1.0
        return np.diag((ahead, 1.0, 1.0)) @ about_level @ about_up @ in_plane

    def corners_mm(self, board: Board) -> FloatArray:
        """(n, 3) corners in the bike frame."""
        flat = np.column_stack((board.corners_mm(), np.zeros(board.n_corners)))
        return flat @ self.axes().T + (*self.centre_mm, self.offset_mm)

    def seen_by(self, camera: BikeView) -> SeenBoard:
        """The same, as the darkroom takes it."""
        return SeenBoard(self, camera)


@dataclass(frozen=True)
class SeenBoard:
    """A board at the bike, and the camera beside it."""

    held: HeldAtBike
    camera: BikeView

    def view(self) -> BikeView:
        """The camera as seen from the board."""
        axes = self.held.axes()
        place = np.array((*self.held.centre_mm, self.held.offset_mm))
        position = axes.T @ (np.array(self.camera.position_mm) - place)
        rotation = np.array(self.camera.rotation).reshape(3, 3) @ axes
        return BikeView(tuple(position.tolist()), tuple(rotation.ravel().tolist()))


def camera_at(
    side: Side,
    yaw: float = 0.0,
    pitch: float = 0.0,
    roll: float = 0.0,
    up_mm: float = 590.0,
    distance_mm: float = 3500.0,
) -> BikeView:
    """A camera that has the bike in the picture's middle however it is turned."""
    x = 50.0 - distance_mm * math.tan(math.radians(yaw))
    return view_from_angles(side, (x, up_mm, distance_mm), yaw, pitch, roll)


def at_axles(side: Side, *turned_deg: float) -> list[HeldAtBike]:
    """Boards held without fault at front, crank and rear."""
    turns = turned_deg or (0.0, 0.0, 0.0)
    return [HeldAtBike(side, *held) for held in zip(AXLES, OFFSETS_MM, turns, strict=True)]


def by_hand(side: Side, random: np.random.Generator) -> list[HeldAtBike]:
    """Boards held as hands do: a few mm beside the axle and off the plane, 1.5 degrees tilted."""
    held = []
    for (x, y), z in zip(AXLES, OFFSETS_MM, strict=True):
        dx, dy, dz = random.normal(0.0, (2.0, 2.0, 3.0))
        tilts = random.normal(0.0, 1.5, 2)
        turn = random.uniform(-10, 10)
        held.append(HeldAtBike(side, (x + dx, y + dy), z + dz, turn, *tilts))
    return held


def averaged(
    board: Board,
    held: HeldAtBike,
    camera: BikeView,
    random: np.random.Generator | None = None,
    lens: Lens = LENS,
) -> BoardView:
    """The mean of 60 pictures of a board; without a random generator, free of error."""
    points = project_px(lens, camera, held.corners_mm(board))
    sd = NOISE_PX / math.sqrt(N_FRAMES)
    if random is not None:
        points = points + random.normal(0.0, COMMON_PX, points.shape)
        points = points + random.normal(0.0, sd, points.shape)
    return BoardView(board.corners_mm(), points, sd)
