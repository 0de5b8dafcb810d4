"""Calibrating a lens from views of a flat board, and refusing what would only look calibrated.

The arithmetic is OpenCV's (Zhang 2000, five distortion numbers). Ours is the choice of views: too
few corners, blurred, nearly the same as another, or unlike all others are left out with a reason;
and without views enough, the picture's corners, or tilts, there is no result.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from posewatch.camera.opencv import cv2
from posewatch.core.boards import BAR_MM
from posewatch.core.lens_calibration import LensCalibration, LensSpread, Refusal, RejectedView
from posewatch.core.plane import Lens
from posewatch.core.records import FloatArray
from posewatch.errors import BadInput

FEWEST_CORNERS = 12
FEWEST_VIEWS = 10
#: A step from black to white wider than this share of the picture's width is blurred.
BLURRED_SHARE = 1 / 160
#: Views whose boards lie this close, in picture widths, tell the same.
SAME_SHARE = 0.02
#: A view left over by so many times the median of all, and by this at least, is not of this lens.
OUTLIER_RATIO, OUTLIER_PX = 3.0, 0.4
#: The picture in cells; a good share of them, and the four at its corners, must have seen corners.
CELLS_ACROSS, CELLS_UP = 5, 4
LEAST_COVERAGE = 0.8
#: Least range of the board's turns about the upright and about the level.
LEAST_TURN_DEG = 30.0

_CORNER_CELLS = {
    (0, 0): "upper left",
    (CELLS_ACROSS - 1, 0): "upper right",
    (0, CELLS_UP - 1): "lower left",
    (CELLS_ACROSS - 1, CELLS_UP - 1): "lower right",
}
_RULE = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 200, 1e-9)


@dataclass(frozen=True, slots=True, eq=False)
class LensView:
    """A flat board in one picture.

    points_mm: (n, 2) on the board. points_px: (n, 2) image px. edge_px: width of the step from
    black to white, NaN = not measured.
    """

    name: str
    points_mm: FloatArray
    points_px: FloatArray
    edge_px: float = float("nan")


@dataclass(frozen=True, slots=True, eq=False)
class LensFit:
    """A lens fitted to views. view_rms_px: (n,) of each view. turns_deg: (n, 2) of each board
    about the upright and about the level."""

    lens: Lens
    rms_px: float
    spread: LensSpread
    view_rms_px: FloatArray
    turns_deg: FloatArray


def fit_lens(
    views: Sequence[LensView], size_px: tuple[int, int], square_pixels: bool = False
) -> LensFit:
    """Fit a lens to all the views, good or bad. size_px: width and height of the pictures.

    square_pixels: one focal length for both directions.

    Raises:
        BadInput: the views do not determine a lens.
    """
    places = [np.column_stack((v.points_mm, np.zeros(len(v.points_mm)))) for v in views]
    flags = cv2.CALIB_FIX_ASPECT_RATIO if square_pixels else 0
    # Image px go in and come out: the fit is the same from whichever corner pixels are counted.
    try:
        rms, matrix, bends, turns, _, sds, _, errors = cv2.calibrateCameraExtended(
            [p.astype(np.float32) for p in places],
            [v.points_px.astype(np.float32) for v in views],
            size_px,
            np.eye(3),
            np.zeros(5),
            flags=flags,
            criteria=_RULE,
        )
    except cv2.error as error:
        raise BadInput(
            f"No lens can be computed from these {len(views)} views.",
            "Tilt the board differently in every view, and use one camera without zooming.",
        ) from error
    found, sd = np.asarray(matrix, np.float64), np.asarray(sds, np.float64).ravel()
    (fx, _, cx), (_, fy, cy), _ = found.tolist()
    k1, k2, p1, p2, k3 = np.asarray(bends, np.float64).ravel()[:5].tolist()
    lens = Lens(*size_px, fx, fy, cx, cy, (k1, k2, p1, p2, k3))
    # With one focal length only fy is estimated.
    spread = LensSpread(float(sd[1 if square_pixels else 0]), *map(float, sd[1:4]))
    view_rms = np.asarray(errors, np.float64).ravel()
    return LensFit(lens, float(rms), spread, view_rms, np.array([_turns_deg(t) for t in turns]))


def calibrate_lens(
    views: Sequence[LensView],
    size_px: tuple[int, int],
    board: str,
    bar_mm: float = BAR_MM,
    rejected: Sequence[RejectedView] = (),
) -> LensCalibration:
    """Calibrate a lens from those of the views that are of use.

    rejected: views refused before, for the record.

    Raises:
        BadInput: too few views are left, or they show too little; says what is missing.
    """
    kept, refused = _choose(views, size_px)
    refused = [*rejected, *refused]
    fit: LensFit | None = None
    while len(kept) >= FEWEST_VIEWS:
        fit = fit_lens(kept, size_px)
        limit = max(OUTLIER_PX, OUTLIER_RATIO * float(np.median(fit.view_rms_px)))
        worst = int(np.argmax(fit.view_rms_px))
        if fit.view_rms_px[worst] <= limit:
            break
        detail = f"{fit.view_rms_px[worst]:.2f} px off, limit {limit:.2f}"
        refused.append(RejectedView(kept.pop(worst).name, Refusal.UNLIKE, detail))
    missing = _missing(kept, size_px, fit)
    if fit is None or missing:
        raise BadInput(
            f"The lens cannot be calibrated yet: {_views(len(kept))} of use, "
            f"{len(refused)} left out{_reasons(refused)}.",
            f"Add {'; '.join(missing)}.",
        )
    (tilt_least, lean_least), (tilt_most, lean_most) = (
        fit.turns_deg.min(axis=0).tolist(),
        fit.turns_deg.max(axis=0).tolist(),
    )
    return LensCalibration(
        fit.lens,
        fit.rms_px,
        fit.spread,
        len(kept),
        sum(len(v.points_px) for v in kept),
        len(_cells(kept, size_px)) / (CELLS_ACROSS * CELLS_UP),
        (tilt_least, tilt_most),
        (lean_least, lean_most),
        tuple(refused),
        board,
        bar_mm,
    )


def _choose(
    views: Sequence[LensView], size_px: tuple[int, int]
) -> tuple[list[LensView], list[RejectedView]]:
    """Leave out what is of no use by itself."""
    kept: list[LensView] = []
    refused = []
    if not views:
        return kept, []
    all_mm = np.concatenate([v.points_mm for v in views])
    (left, low), (right, high) = all_mm.min(axis=0), all_mm.max(axis=0)
    frame_mm = np.array(((left, low), (right, low), (right, high), (left, high)))
    frames: list[FloatArray] = []
    for view in views:
        refusal = _of_no_use(view, size_px[0])
        plane = None if refusal else cv2.findHomography(view.points_mm, view.points_px)[0]
        if refusal or plane is None:
            refused.append(refusal or RejectedView(view.name, Refusal.NOT_FLAT))
            continue
        frame = np.asarray(cv2.perspectiveTransform(frame_mm[None], plane), np.float64)[0]
        apart = [float(np.linalg.norm(frame - f, axis=1).mean()) for f in frames]
        if apart and min(apart) < SAME_SHARE * size_px[0]:
            twin = kept[int(np.argmin(apart))].name
            refused.append(RejectedView(view.name, Refusal.SAME, twin))
            continue
        kept.append(view)
        frames.append(frame)
    return kept, refused


def _of_no_use(view: LensView, width_px: int) -> RejectedView | None:
    n = len(view.points_px)
    if n < FEWEST_CORNERS:
        return RejectedView(view.name, Refusal.FEW_CORNERS, f"{n}, at least {FEWEST_CORNERS}")
    if view.edge_px > BLURRED_SHARE * width_px:
        return RejectedView(view.name, Refusal.BLURRED, f"edges {view.edge_px:.1f} px wide")
    if np.linalg.matrix_rank(view.points_mm - view.points_mm.mean(axis=0), tol=1e-6) < 2:
        return RejectedView(view.name, Refusal.FEW_CORNERS, "all in one line")
    return None


def _missing(kept: Sequence[LensView], size_px: tuple[int, int], fit: LensFit | None) -> list[str]:
    missing = []
    if len(kept) < FEWEST_VIEWS:
        missing.append(f"at least {FEWEST_VIEWS - len(kept)} more views (15 to 25 are good)")
    cells = _cells(kept, size_px)
    empty = [name for cell, name in _CORNER_CELLS.items() if cell not in cells]
    if empty:
        missing.append(f"the board in the picture's corner {', '.join(empty)}")
    share = len(cells) / (CELLS_ACROSS * CELLS_UP)
    if share < LEAST_COVERAGE:
        missing.append(
            f"the board in all parts of the picture ({100 * share:.0f} % of it seen, at least "
            f"{100 * LEAST_COVERAGE:.0f})"
        )
    if fit is not None:
        ways = ("to the left and to the right", "forwards and backwards")
        for way, turn in zip(ways, np.ptp(fit.turns_deg, axis=0).tolist(), strict=True):
            if turn < LEAST_TURN_DEG:
                missing.append(
                    f"views with the board tilted {way} by 20 to 40 degrees (so far {turn:.0f} "
                    "degrees from one end to the other)"
                )
    return missing


def _cells(views: Sequence[LensView], size_px: tuple[int, int]) -> set[tuple[int, int]]:
    """Return the cells of the picture in which corners were seen: column, row."""
    grid = np.array((CELLS_ACROSS, CELLS_UP))
    seen: set[tuple[int, int]] = set()
    for view in views:
        cells = np.floor(view.points_px / np.array(size_px) * grid).astype(int)
        seen.update((int(column), int(row)) for column, row in np.clip(cells, 0, grid - 1))
    return seen


def _turns_deg(turn: object) -> tuple[float, float]:
    """Return how far the board's print is turned from facing the camera, about the upright and
    about the level, whichever way round the board is held."""
    rotation = np.asarray(cv2.Rodrigues(np.asarray(turn))[0], np.float64)
    across, up, along = rotation[:, 2] * np.sign(rotation[2, 2])
    return float(np.degrees(np.arctan2(across, along))), float(np.degrees(np.arctan2(up, along)))


def _views(n: int) -> str:
    return "1 view is" if n == 1 else f"{n} views are"


def _reasons(refused: Sequence[RejectedView]) -> str:
    """Return why views were left out, the commonest first, each with how often."""
    counts = Counter(one.refusal for one in refused).most_common()
    return f" ({', '.join(f'{refusal}: {n}' for refusal, n in counts)})" if counts else ""
