"""The camera's view of the bike from one board held in turn at front axle, crank and rear axle.

All three boards lie in planes parallel to the bike's middle plane, each at a known offset from it.
That ties them together: their sizes in the picture tell the distance, and how the sizes differ
along the bike tells how square the camera stands, far better than one board could alone.

Pure arithmetic on corners; finding them in pictures is another module's work.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from posewatch.camera.view_fit import N_VIEW, fit_view, spread_of, start_view, view_of
from posewatch.core.bike_setup import BikeSetup, SetupMethod, scale_mm_per_px
from posewatch.core.plane import Lens, project_px
from posewatch.core.records import FloatArray, Side
from posewatch.errors import BadInput

#: Where a board lies off the middle plane when held at these, mm; common practice, from memory:
#: hubs 100 and 130 to 142 mm between the dropouts, a little more with the axle's end, and a road
#: crank about 146 to 150 mm over the arms' outer faces.
FRONT_OFFSET_MM, CRANK_OFFSET_MM, REAR_OFFSET_MM = 55.0, 75.0, 72.0

#: How true a hand holds a board: its distance from the middle plane, its middle on the axle (up),
#: parallel to the bike, and upright with a spirit level.
OFFSET_SD_MM, HEIGHT_SD_MM, TILT_SD_DEG, UPRIGHT_SD_DEG = 3.0, 3.0, 1.5, 0.5
#: What averaging over pictures does not take away from a corner's place, px.
CORNER_FLOOR_PX = 0.05
#: More is left over than this: these boards and this lens are not those in the pictures.
RMS_REFUSED_PX = 2.0
FEWEST_CORNERS = 4
NEAREST_AXLES_MM = 400.0
#: Boards said to be level that lean more against each other, or with the camera altogether.
UPRIGHT_REFUSED_DEG, ROLL_REFUSED_DEG = 5.0, 45.0

PLACES = ("front axle", "crank", "rear axle")
#: Beside the view, a fit finds x and y of front and rear axle (mm), and of each board its turn
#: (degrees), error of the offset (mm) and tilts about upright and level (degrees); about how far.
AXLE_SIZES, HELD_SIZES = (10.0, 10.0, 10.0, 10.0), (1.0, 3.0, 1.5, 1.5)


@dataclass(frozen=True, slots=True, eq=False)
class BoardView:
    """One board as it was seen.

    points_mm: (n, 2) corners from the board's middle, right and up as one looks at its print.
    points_px: (n, 2) where they are in the picture, image px. corner_sd_px: random error of these.
    """

    points_mm: FloatArray
    points_px: FloatArray
    corner_sd_px: float


@dataclass(frozen=True, slots=True)
class HeldHow:
    """How the boards were held, and what is known of the bike.

    offsets_mm: of front, crank and rear board from the middle plane. front_axle_higher_mm: the
    front axle above the rear one (0 = the bike stands level). upright: the boards were held with
    a spirit level, which then tells what is level instead of the axles.
    """

    offsets_mm: tuple[float, float, float] = (FRONT_OFFSET_MM, CRANK_OFFSET_MM, REAR_OFFSET_MM)
    front_axle_higher_mm: float = 0.0
    upright: bool = False
    known_wheelbase_mm: float | None = None


@dataclass(frozen=True, slots=True)
class _Flat:
    """A board as a similarity in the picture: middle_px, px a mm, turned left by so much."""

    middle_px: FloatArray
    px_per_mm: float
    turned_rad: float


def flat_scale_px_per_mm(points_mm: FloatArray, points_px: FloatArray) -> float:
    """Return how large a board is in the picture, by least squares, as if seen square."""
    return _flat(points_mm, points_px).px_per_mm


def solve_boards(
    lens: Lens, front: BoardView, crank: BoardView, rear: BoardView, how: HeldHow
) -> BikeSetup:
    """Return the view that fits the corners of all three boards best.

    Raises:
        BadInput: too few corners, places that no bike has, boards that were not upright though
            they should be, or a fit that leaves too much.
    """
    boards = (front, crank, rear)
    flats = _flats(boards)
    side = Side.RIGHT if flats[0].middle_px[0] > flats[2].middle_px[0] else Side.LEFT
    start = _start(lens, side, flats, how)
    seen_px = np.concatenate([board.points_px for board in boards])
    sds = [math.hypot(CORNER_FLOOR_PX, board.corner_sd_px) for board in boards]
    weights = 1.0 / np.repeat(sds, [len(board.points_px) for board in boards])[:, None]

    def misses_px(values: FloatArray) -> FloatArray:
        corners = [_corners_mm(values, k, side, board, how) for k, board in enumerate(boards)]
        seen = project_px(lens, view_of(side, values), np.concatenate(corners))
        return np.asarray(seen - seen_px, np.float64)

    def residuals(values: FloatArray) -> FloatArray:
        return np.concatenate(((misses_px(values) * weights).ravel(), _held_misses(values, how)))

    fit = fit_view(residuals, start, [*AXLE_SIZES, *3 * HELD_SIZES])
    rms_px = float(np.sqrt(np.mean(misses_px(fit.values) ** 2)))
    if not (fit.settled and rms_px <= RMS_REFUSED_PX):
        raise BadInput(
            f"The three boards do not fit one view of a bike: {rms_px:.1f} px are left over.",
            "See that the length of the printed bar and the lens are those of these pictures, that "
            "the boards lay parallel to the bike, and that camera and bike did not move.",
        )
    view = view_of(side, fit.values)
    front_x, front_y, rear_x, rear_y = (float(v) for v in fit.values[N_VIEW : N_VIEW + 4])
    return BikeSetup(
        SetupMethod.BOARDS,
        view,
        (front_x, front_y),
        (rear_x, rear_y),
        scale_mm_per_px(lens, view),
        spread_of(lens, side, fit),
        rms_px,
        how.known_wheelbase_mm,
    )


def _flat(points_mm: FloatArray, points_px: FloatArray) -> _Flat:
    """Fit turn, size and place, with the picture's y turned upwards, as complex numbers."""
    on_board = points_mm[:, 0] + 1j * points_mm[:, 1]
    seen = points_px[:, 0] - 1j * points_px[:, 1]
    about = on_board - on_board.mean()
    turn = complex(np.vdot(about, seen) / np.vdot(about, about))
    middle = complex(seen.mean() - turn * on_board.mean())
    return _Flat(np.array((middle.real, -middle.imag)), abs(turn), math.atan2(turn.imag, turn.real))


def _flats(boards: tuple[BoardView, ...]) -> list[_Flat]:
    flats = []
    for place, board in zip(PLACES, boards, strict=True):
        if len(board.points_px) < FEWEST_CORNERS:
            raise BadInput(
                f"Only {len(board.points_px)} corners of the board at the {place} were found; "
                f"{FEWEST_CORNERS} are needed.",
                "Hold it so that no hand or frame tube covers it, in even light.",
            )
        flats.append(_flat(board.points_mm, board.points_px))
    apart_px = float(np.linalg.norm(flats[0].middle_px - flats[2].middle_px))
    apart_mm = 2.0 * apart_px / (flats[0].px_per_mm + flats[2].px_per_mm)
    if apart_mm < NEAREST_AXLES_MM:
        raise BadInput(
            f"The boards at front and rear axle are only {apart_mm:.0f} mm apart.",
            "Give the picture of each place: --front, --crank and --rear.",
        )
    return flats


def _start(lens: Lens, side: Side, flats: list[_Flat], how: HeldHow) -> FloatArray:
    """Return values for a square camera: view, axles, then turn, offset and tilts of each board."""
    crank = flats[1]
    reach_mm = float(np.mean([lens.fx_px / flat.px_per_mm for flat in flats]))
    values = start_view(lens, side, crank.middle_px, how.offsets_mm[1], reach_mm)
    ahead = 1.0 if side is Side.RIGHT else -1.0
    for axle in (flats[0], flats[2]):
        step = (axle.middle_px - crank.middle_px) / axle.px_per_mm
        values += [ahead * float(step[0]), -float(step[1])]
    for flat in flats:
        values += [math.degrees(flat.turned_rad), 0.0, 0.0, 0.0]
    if how.upright:
        _require_upright(flats)
    return np.array(values)


def _require_upright(flats: list[_Flat]) -> None:
    leans = [math.degrees(flat.turned_rad) for flat in flats]
    usual = float(np.median(leans))
    for place, lean in zip(PLACES, leans, strict=True):
        if abs(lean - usual) > UPRIGHT_REFUSED_DEG or abs(lean) > ROLL_REFUSED_DEG:
            raise BadInput(
                f"The board at the {place} leans {lean:+.0f} degrees to the left in the picture "
                f"(all three: {', '.join(f'{one:+.0f}' for one in leans)}), though the boards were "
                "said to be level.",
                "Hold each with the spirit level and its arrow up, or leave --board-level out.",
            )


def _corners_mm(
    values: FloatArray, k: int, side: Side, board: BoardView, how: HeldHow
) -> FloatArray:
    """Return (n, 3) bike-frame places of the corners of board k (front, crank, rear)."""
    axles = values[N_VIEW : N_VIEW + 4]
    centre = (axles[:2], np.zeros(2), axles[2:])[k]
    turn, offset, tilt_along, tilt_up = values[N_VIEW + 4 :].reshape(3, len(HELD_SIZES))[k]
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    u, v = board.points_mm.T
    right, up = cos * u - sin * v, sin * u + cos * v
    along, rise = math.radians(tilt_along), math.radians(tilt_up)
    # As the camera sees it; on the left side of the bike the picture's right is backwards.
    ahead = 1.0 if side is Side.RIGHT else -1.0
    return np.stack(
        (
            centre[0] + ahead * math.cos(along) * right,
            centre[1] + math.cos(rise) * up,
            how.offsets_mm[k] + offset + math.sin(along) * right + math.sin(rise) * up,
        ),
        axis=-1,
    )


def _held_misses(values: FloatArray, how: HeldHow) -> FloatArray:
    """Return how far the values are from how boards are held, in standard deviations."""
    _, front_y, _, rear_y = values[N_VIEW : N_VIEW + 4]
    held = values[N_VIEW + 4 :].reshape(3, len(HELD_SIZES))
    turns, offsets, tilts = held[:, 0], held[:, 1], held[:, 2:]
    level = (
        turns / UPRIGHT_SD_DEG
        if how.upright
        else np.array([(front_y - rear_y - how.front_axle_higher_mm) / HEIGHT_SD_MM])
    )
    return np.concatenate((level, offsets / OFFSET_SD_MM, tilts.ravel() / TILT_SD_DEG))
