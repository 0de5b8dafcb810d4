"""Pictures of the printed boards through a known lens, ray by ray."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from posewatch.camera.boards import black_mm
from posewatch.camera.opencv import cv2
from posewatch.core.boards import MIDDLE_DISC_MM, Board
from posewatch.core.plane import BikeView, Lens, project_px, undistort
from posewatch.core.records import FloatArray
from posewatch.core.sources import Picture

#: Rays a pixel, each way.
RAYS = 3
BITMAP_PX_PER_MM = 4
INK, PAPER, WALL = 25.0, 215.0, 110.0


@dataclass(frozen=True)
class Held:
    """How a board is held: its middle in the camera's axes, and how it is turned from facing it.

    tilt_deg turns it about the upright (its right edge comes nearer), lean_deg about the level
    (its upper edge comes nearer), roll_deg in its own plane.
    """

    x_mm: float
    y_mm: float
    z_mm: float
    tilt_deg: float = 0.0
    lean_deg: float = 0.0
    roll_deg: float = 0.0

    def view(self) -> BikeView:
        """The camera as seen from the board: x right, y up, z out of the print."""
        a, b, c = np.radians((self.tilt_deg, self.lean_deg, self.roll_deg))
        about_up = np.array(((np.cos(a), 0, -np.sin(a)), (0, 1, 0), (np.sin(a), 0, np.cos(a))))
        about_level = np.array(((1, 0, 0), (0, np.cos(b), -np.sin(b)), (0, np.sin(b), np.cos(b))))
        in_plane = np.array(((np.cos(c), -np.sin(c), 0), (np.sin(c), np.cos(c), 0), (0, 0, 1)))
        rotation = np.diag((1.0, -1.0, -1.0)) @ about_up @ about_level @ in_plane
        position = -rotation.T @ np.array((self.x_mm, self.y_mm, self.z_mm))
        return BikeView(tuple(position.tolist()), tuple(rotation.ravel().tolist()))


class Darkroom:
    """Pictures through one lens; its rays are computed once."""

    def __init__(self, lens: Lens, rays: int = RAYS) -> None:
        self.lens = lens
        self._rays = rays
        x, y = ((np.arange(size * rays) + 0.5) / rays for size in (lens.width_px, lens.height_px))
        points = np.stack(np.meshgrid(x, y), axis=-1)
        self._x, self._y = undistort(lens, points)

    def picture(
        self,
        board: Board,
        held: Held,
        seed: int = 0,
        blur_px: float = 0.5,
        noise: float = 2.0,
        smear_px: int = 0,
    ) -> Picture:
        """Return a picture; smear_px: how far the board moved to the right during exposure."""
        view = held.view()
        place = np.array(view.position_mm)
        turn = np.array(view.rotation).reshape(3, 3)
        toward = [self._x * turn[0, k] + self._y * turn[1, k] + turn[2, k] for k in range(3)]
        reach = -place[2] / toward[2]
        print_mm, origin = _bitmap(board)
        maps = (
            (place[0] + reach * toward[0] - origin[0]) * BITMAP_PX_PER_MM - 0.5,
            (origin[1] - place[1] - reach * toward[1]) * BITMAP_PX_PER_MM - 0.5,
        )
        seen = cv2.remap(
            print_mm,
            maps[0].astype(np.float32),
            maps[1].astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=WALL,
        )
        size = (self.lens.width_px, self.lens.height_px)
        grey = cv2.resize(seen, size, interpolation=cv2.INTER_AREA)
        if smear_px:
            grey = cv2.blur(grey, (smear_px, 1))
        if blur_px:
            grey = cv2.GaussianBlur(grey, (0, 0), blur_px)
        grain = np.random.default_rng(seed).normal(0, noise, grey.shape)
        levels = np.clip(np.rint(grey + grain), 0, 255).astype(np.uint8)
        return np.ascontiguousarray(np.repeat(levels[:, :, None], 3, axis=2))

    def corners_px(self, board: Board, held: Held) -> FloatArray:
        """Return (n, 2) where all the board's corners truly are in the picture."""
        places = np.column_stack((board.corners_mm(), np.zeros(board.n_corners)))
        return project_px(self.lens, held.view(), places)


def _bitmap(board: Board) -> tuple[NDArray[np.float32], tuple[float, float]]:
    """Return the page, and the place of its top left corner, mm from the board's middle."""
    width, height = board.paper.width_mm, board.paper.height_mm
    fine = 2 * BITMAP_PX_PER_MM
    page = np.full((round(height * fine), round(width * fine)), PAPER, np.float32)
    left, top = -width / 2, height / 2
    for x0, y0, x1, y1 in black_mm(board):
        columns = slice(round((x0 - left) * fine), round((x1 - left) * fine))
        page[round((top - y1) * fine) : round((top - y0) * fine), columns] = INK
    if board.held_on_bike:
        middle = (page.shape[1] // 2, page.shape[0] // 2)
        radius = round(MIDDLE_DISC_MM * fine)
        cv2.circle(page, middle, radius, PAPER, -1)
        cv2.circle(page, middle, radius, INK, 2)
        cv2.circle(page, middle, radius // 2, INK, 2)
    half = cv2.resize(page, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    return np.asarray(half, np.float32), (left, top)


def lens_views(board: Board, lens: Lens, n: int, seed: int) -> list[Held]:
    """Return n ways of holding a lens board, spread over picture, distances and tilts.

    The board's middle goes round the picture; it always stays wholly or mostly inside.
    """
    rng = np.random.default_rng(seed)
    places = [(u, v) for v in (0.3, 0.5, 0.7) for u in (0.25, 0.5, 0.75)]
    tilts = [(0, 0), (30, 0), (-30, 0), (0, 30), (0, -30), (25, 25), (-25, 25), (25, -25)]
    held = []
    for k in range(n):
        u, v = places[k % len(places)]
        tilt, lean = tilts[k % len(tilts)]
        share = rng.uniform(0.45, 0.8)
        z = lens.fx_px * board.width_mm / (share * lens.width_px)
        held.append(
            Held(
                (u * lens.width_px - lens.cx_px) * z / lens.fx_px,
                (v * lens.height_px - lens.cy_px) * z / lens.fy_px,
                z,
                tilt + rng.uniform(-5, 5),
                lean + rng.uniform(-5, 5),
                rng.uniform(-20, 20),
            )
        )
    return held
