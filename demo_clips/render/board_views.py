"""Pictures of the printed boards through the demo camera: for its lens, and at the demo bike.

The bike board is held as a steady hand holds it: with a small lean, and a tremor of a fraction of a
millimetre. Nothing of the bike may stick through it, so it is as far from the bike's middle plane
as fork, crank arm and trainer need.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image as Pillow

from demo_clips.render.bike import FRONT_AXLE, REAR_AXLE, still_parts, turning_parts
from demo_clips.render.board_sheet import board_picture, board_sheet
from demo_clips.render.body import load_body
from demo_clips.render.camera import SideCamera
from demo_clips.render.encoding import Image, encode
from demo_clips.render.light import SOFT
from demo_clips.render.motion import smooth_noise
from demo_clips.render.renderer import Renderer
from demo_clips.render.rider import SIDES, Fit, Rider
from demo_clips.render.room import room
from demo_clips.render.shapes import Mesh, join
from demo_clips.render.skeleton import pitch, roll, turn, yaw
from demo_clips.render.truth import CONVENTION, camera_record
from posewatch.core.boards import BAR_MM, Board, board_named

Array = NDArray[np.float64]

LENS_BOARD, BIKE_BOARD = board_named("lens-a3"), board_named("bike-a3")
CAMERAS = {"bike": SideCamera("R"), "bike_yaw_6": SideCamera("R").orbited(6.0)}

FRAMES_PER_S, HELD_FRAMES, STILL_FRAMES = 30, 60, 30
NOISE_SD = 1.5  # grey levels of 255, from picture to picture
TREMOR_SD_MM, TREMOR_OVER_S = 0.3, 0.15
SEED = 140
CRF, JPEG_QUALITY = 17, 92
CRANK_DEG = 0.0  # upright: the pedal stands above the board


@dataclass(frozen=True)
class LensView:
    """How the lens board is held: its middle in the picture (px), its distance along the lens axis,
    turned about the upright and about the level, and leaning to the right as it is seen."""

    x_px: float
    y_px: float
    away_m: float
    upright_deg: float
    level_deg: float
    lean_deg: float


LENS_VIEWS = tuple(
    LensView(*numbers)
    for numbers in (
        (320, 240, 0.80, 0, 0, 2),
        (320, 240, 0.85, 32, 0, -3),
        (310, 250, 0.85, -32, 4, 4),
        (320, 240, 0.80, 5, 32, 1),
        (330, 235, 0.80, -4, -32, -2),
        (160, 115, 0.95, 25, 20, 5),
        (480, 115, 0.95, -25, 20, -4),
        (160, 365, 0.95, 25, -20, -6),
        (480, 365, 0.95, -25, -20, 3),
        (140, 120, 1.40, -36, 15, 8),
        (500, 110, 1.40, 36, -12, -3),
        (130, 375, 1.40, -22, 33, -7),
        (510, 375, 1.40, 21, -36, 5),
        (330, 130, 1.20, 24, 30, 90),
        (320, 350, 1.10, -34, -22, 1),
        (110, 240, 1.25, 38, -10, -4),
    )
)


@dataclass(frozen=True)
class Place:
    """Where the bike board is held: its middle, mm in the bike frame, and its lean to the right."""

    middle_mm: tuple[float, float, float]
    lean_deg: float


def _on(axle_m: Array, offset_mm: float) -> tuple[float, float, float]:
    return float(1000 * axle_m[0]), float(1000 * axle_m[1]), offset_mm


# Fork ends reach out to 63 mm, the crank arm to 84 mm; the trainer's legs are 187 mm out where the
# board's lower edge is. At the front the board all but touches the fork.
PLACES = {
    "front_axle": Place(_on(FRONT_AXLE, 66.0), 1.8),
    "crank": Place(_on(np.zeros(3), 86.0), -1.2),
    "rear_axle": Place(_on(REAR_AXLE, 190.0), 2.6),
}


def lens_sheet(camera: SideCamera, view: LensView) -> Mesh:
    """The lens board as it is held before the camera."""
    from_camera = camera.bike_to_camera.T
    centre_x, centre_y = camera.principal_px
    ray = np.array(
        [(view.x_px - centre_x) / camera.focal_px, (view.y_px - centre_y) / camera.focal_px, 1.0]
    )
    lens_axis = np.array([0.0, 0.0, 1.0])
    held = yaw(view.upright_deg) @ roll(view.level_deg) @ turn(lens_axis, view.lean_deg)
    right, up = (from_camera @ held @ np.array(v) for v in ((1.0, 0.0, 0.0), (0.0, -1.0, 0.0)))
    return board_sheet(LENS_BOARD, camera.position_m + from_camera @ (ray * view.away_m), right, up)


def held_sheets(place: Place, draw: np.random.Generator) -> Iterator[Mesh]:
    """The bike board at one place, picture by picture, in a hand that trembles."""
    step_s = 1 / FRAMES_PER_S
    tremor_mm = TREMOR_SD_MM * np.stack(
        [smooth_noise(draw, HELD_FRAMES, step_s, TREMOR_OVER_S) for _ in range(3)], axis=1
    )
    right, up = pitch(place.lean_deg)[:, 0], pitch(place.lean_deg)[:, 1]
    for moved_mm in tremor_mm:
        yield board_sheet(BIKE_BOARD, (np.array(place.middle_mm) + moved_mm) / 1000, right, up)


class _Studio:
    """Room and bike before one camera, with a board as its picture."""

    def __init__(self, camera: SideCamera, board: Board) -> None:
        rider = Rider(load_body(), Fit())
        still = join([room(camera.side), still_parts(rider, np.zeros(3))])
        self._crank = turning_parts(rider, CRANK_DEG, dict.fromkeys(SIDES, 0.0))
        self._renderer = Renderer(camera, SOFT, still, board_picture(board))

    def __enter__(self) -> _Studio:
        return self

    def __exit__(self, *_: object) -> None:
        self._renderer.close()

    def picture(self, sheets: list[Mesh], draw: np.random.Generator) -> Image:
        """One noisy picture (height, width, 3)."""
        clean = self._renderer.frame([(part, None) for part in (self._crank, *sheets)])
        noisy = clean + NOISE_SD * draw.standard_normal((*clean.shape[:2], 1))
        return np.clip(np.rint(noisy), 0, 255).astype(np.uint8)


def truth() -> dict[str, Any]:
    """What ``truth.json`` says of the board pictures."""
    front, rear = PLACES["front_axle"], PLACES["rear_axle"]
    return {
        "convention": f"{CONVENTION} Boards at the bike: middle on the axle, offset towards the "
        "camera, parallel to the middle plane, leaning to the right in the picture.",
        "boards": {
            board.name: {
                "squares": [board.squares_across, board.squares_up],
                "square_mm": board.square_mm,
                "marker_mm": board.marker_mm,
                "bar_mm": BAR_MM,
            }
            for board in (LENS_BOARD, BIKE_BOARD)
        },
        "lens_board": LENS_BOARD.name,
        "bike_board": BIKE_BOARD.name,
        "offsets_mm": {name: place.middle_mm[2] for name, place in PLACES.items()},
        "lean_deg": {name: place.lean_deg for name, place in PLACES.items()},
        "front_axle_mm": list(front.middle_mm[:2]),
        "rear_axle_mm": list(rear.middle_mm[:2]),
        "wheelbase_mm": front.middle_mm[0] - rear.middle_mm[0],
        "tremor_sd_mm": TREMOR_SD_MM,
        "noise_sd_grey_levels": NOISE_SD,
        "cameras": {
            name: {"yaw_deg": camera.yaw_deg, **camera_record(camera)}
            for name, camera in CAMERAS.items()
        },
    }


def picture_count() -> int:
    """How many pictures :func:`write_boards` makes."""
    return len(LENS_VIEWS) + len(CAMERAS) * (len(PLACES) * HELD_FRAMES + STILL_FRAMES)


def write_boards(folder: Path, on_picture: Callable[[], None]) -> None:
    """Write all board pictures, clips and ``truth.json`` into ``folder``."""
    _write_lens_views(folder / "lens", on_picture)
    for name, camera in CAMERAS.items():
        _write_bike_clips(folder / name, camera, on_picture)
    with _finished(folder / "truth.json") as path:
        path.write_text(json.dumps(truth(), indent=2) + "\n", encoding="utf-8")


def _write_lens_views(folder: Path, on_picture: Callable[[], None]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    draw = np.random.default_rng(SEED)
    camera = CAMERAS["bike"]
    with _Studio(camera, LENS_BOARD) as studio:
        for number, view in enumerate(LENS_VIEWS, start=1):
            picture = Pillow.fromarray(studio.picture([lens_sheet(camera, view)], draw))
            with _finished(folder / f"{number:02d}.jpg") as path:
                picture.save(path, format="JPEG", quality=JPEG_QUALITY, subsampling=0)
            on_picture()


def _write_bike_clips(folder: Path, camera: SideCamera, on_picture: Callable[[], None]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    draw = np.random.default_rng(SEED + 1)
    clips: dict[str, Iterable[list[Mesh]]] = {
        name: ([sheet] for sheet in held_sheets(place, draw)) for name, place in PLACES.items()
    }
    clips["still"] = [[]] * STILL_FRAMES

    def pictures(held: Iterable[list[Mesh]]) -> Iterator[Image]:
        for sheets in held:
            on_picture()
            yield studio.picture(sheets, draw)

    with _Studio(camera, BIKE_BOARD) as studio:
        for name, held in clips.items():
            with _finished(folder / f"{name}.mp4") as path:
                encode(path, camera, FRAMES_PER_S, pictures(held), CRF)


@contextmanager
def _finished(path: Path) -> Iterator[Path]:
    """A name to write to first: only what was written whole replaces ``path``."""
    unfinished = path.with_name(path.name + ".part")
    yield unfinished
    os.replace(unfinished, path)
