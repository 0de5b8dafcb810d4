"""The still background: patches kept at set-up, and looked for in later pictures.

Patches are 20 px squares around corners, of the picture reduced to at most 640 px on its longer
side, so that a look costs the same for any camera. Whole pictures are never kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from posewatch.camera.opencv import cv2
from posewatch.camera.patches import SIDE_PX, Grey, WholePx, find_patches
from posewatch.camera.sharpness import detail_kept, detail_share
from posewatch.core.records import BoolArray, FloatArray
from posewatch.core.sources import Picture
from posewatch.core.view_motion import (
    MIN_PATCHES,
    Background,
    Findings,
    motion,
    moved_places_px,
)
from posewatch.errors import BadInput

LOOK_SIDE_PX = 640
#: Corners are chosen in so many cells over the picture, so many at most in each.
CELLS_ACROSS, CELLS_DOWN = 8, 6
MOST_IN_CELL = 2
MOST_PATCHES = 64
#: Least squared gradient across a corner's weaker direction, as cornerMinEigenVal measures it.
CORNER_LEAST = 1e-3
CORNER_BLOCK_PX = 7
#: A patch unlike itself in some picture of the set-up is not of the still background.
STEADY_LEAST = 0.7
#: How far to search: near, then wide, then in half the size, each only where too few agree.
NEAR_PX, WIDE_PX, COARSE_PX = 4, 12, 24
COARSE_TOLERANCE_PX = 4.0
AGREE_ENOUGH = 0.5
STANDS_PX = 1.0
#: Detail of the whole picture is taken at this size, where the sensor's noise averages out.
SMALL_PX = (64, 48)


def make_background(
    pictures: Sequence[Picture], leave_out_px: FloatArray | None = None
) -> Background:
    """Choose patches of the still background.

    Args:
        pictures: one or several of the same view, (height, width, 3) uint8, RGB; each patch is
            their median, and what moves between them is left out.
        leave_out_px: (k, 2) image px, convex outline of what is not background; None = nothing.

    Raises:
        BadInput: too few still corners can be seen.
        ValueError: there is no picture, or they differ in size.
    """
    if not pictures or len({picture.shape for picture in pictures}) != 1:
        raise ValueError("There must be pictures, all of one size.")
    height_px, width_px = pictures[0].shape[:2]
    scale = _scale(width_px, height_px)
    greys = np.stack([_grey(picture) for picture in pictures])
    tops = _corners(np.rint(greys.mean(axis=0)).astype(np.uint8), _scaled(leave_out_px, scale))
    rows = tops[:, 1, None, None] + np.arange(SIDE_PX)[:, None]
    columns = tops[:, 0, None, None] + np.arange(SIDE_PX)
    seen = greys[:, rows, columns]
    patches = np.rint(np.median(seen, axis=0)).astype(np.uint8)
    steady = _least_likeness(seen, patches) >= STEADY_LEAST
    n_steady = np.count_nonzero(steady)
    if n_steady < MIN_PATCHES:
        raise BadInput(
            f"Only {n_steady} corners of the still background can be seen; a moved camera is"
            f" noticed from {MIN_PATCHES} on.",
            "Give more light, or put something with clear corners into view beside the rider.",
        )
    patches = patches[steady]
    places_px = np.asarray((tops[steady] + SIDE_PX / 2) / scale, np.float64)
    return Background(width_px, height_px, patches, places_px, detail_share(patches))


def look(
    background: Background, picture: Picture, leave_out_px: FloatArray | None = None
) -> Findings:
    """Look for a background's patches in a picture.

    Args:
        background: of pictures of the same size.
        picture: (height, width, 3) uint8, RGB.
        leave_out_px: (k, 2) image px, convex outline of what may hide the background; None =
            nothing. Patches that touch it are no evidence.

    Raises:
        ValueError: the picture has another size.
    """
    if picture.shape[:2] != (background.height_px, background.width_px):
        raise ValueError("The picture is not of the background's size.")
    scale = _scale(background.width_px, background.height_px)
    grey = _grey(picture)
    places = background.places_px * scale
    expected = ~_touches(places, _scaled(leave_out_px, scale))
    best, most = None, -1
    for found in _Search(background, grey, expected, _contrast(grey), scale).rounds():
        n_agree = _n_standing(found, scale) if best is None else _n_moving_as_one(found)
        if n_agree > most:
            best, most = found, n_agree
        if n_agree >= AGREE_ENOUGH * np.count_nonzero(expected):
            break
    assert best is not None
    return replace(best, sharpness=_sharpness(background, grey, best, scale))


@dataclass(frozen=True, slots=True, eq=False)
class _Search:
    """A background looked for in one grey picture reduced by scale; the rest as in Findings."""

    background: Background
    grey: Grey
    expected: BoolArray
    contrast: float
    scale: float

    def rounds(self) -> Iterator[Findings]:
        """Give findings of ever wider searches."""
        tops = np.rint(self.background.places_px * self.scale - SIDE_PX / 2).astype(np.int64)
        patches = self.background.patches
        yield self._findings(*find_patches(self.grey, patches, tops, tops, NEAR_PX, self.expected))
        yield self._findings(*find_patches(self.grey, patches, tops, tops, WIDE_PX, self.expected))
        half = cv2.resize(self.grey, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        halves = patches.reshape(len(patches), SIDE_PX // 2, 2, SIDE_PX // 2, 2).mean(axis=(2, 4))
        shifts, correlation = find_patches(
            np.asarray(half, np.uint8),
            np.rint(halves).astype(np.uint8),
            tops // 2,
            tops // 2,
            COARSE_PX,
            self.expected,
        )
        coarse = self._findings(2 * shifts, correlation)
        moved = motion(coarse, COARSE_TOLERANCE_PX)
        if moved is None:
            return
        shifts_px = moved_places_px(coarse, moved) - self.background.places_px
        begin = tops + np.rint(shifts_px * self.scale).astype(np.int64)
        yield self._findings(*find_patches(self.grey, patches, tops, begin, WIDE_PX, self.expected))

    def _findings(self, shifts: FloatArray, correlation: FloatArray) -> Findings:
        return Findings(
            self.background.width_px,
            self.background.height_px,
            self.background.places_px,
            shifts / self.scale,
            correlation,
            np.full(len(shifts), np.nan),
            self.expected,
            self.contrast,
        )


def _n_standing(found: Findings, scale: float) -> int:
    """Count patches where they were: the usual case, told at less cost than any motion."""
    return int(np.count_nonzero(np.hypot(*found.shifts_px.T) * scale <= STANDS_PX))


def _n_moving_as_one(found: Findings) -> int:
    moved = motion(found)
    return 0 if moved is None else int(np.count_nonzero(moved.agree))


def _sharpness(background: Background, grey: Grey, found: Findings, scale: float) -> FloatArray:
    """Return each found patch's sharpness as a share of that at set-up; NaN = not found."""
    sharpness = np.full(len(background.places_px), np.nan)
    there = np.asarray(np.isfinite(found.shifts_px).all(axis=1), bool)
    tops = (background.places_px + found.shifts_px)[there] * scale - SIDE_PX / 2
    sharpness[there] = detail_kept(background, there, grey, tops)
    return sharpness


def _least_likeness(seen: Grey, patches: Grey) -> FloatArray:
    """Return each patch's least correlation with what was seen there, (pictures, n, side, side)."""
    one = seen - seen.mean(axis=(2, 3), keepdims=True)
    other = patches - patches.mean(axis=(1, 2), keepdims=True)
    power = np.sqrt(np.sum(one**2, axis=(2, 3)) * np.sum(other**2, axis=(1, 2)))
    likeness = np.sum(one * other, axis=(2, 3)) / np.maximum(power, 1e-9)
    least: FloatArray = likeness.min(axis=0)
    return least


def _corners(grey: Grey, leave_out: FloatArray | None) -> WholePx:
    """Return the top left pixels of patches around the clearest corners, (n, 2)."""
    height, width = grey.shape
    clear = np.asarray(cv2.cornerMinEigenVal(grey, CORNER_BLOCK_PX, ksize=3), np.float64)
    edge = SIDE_PX // 2 + NEAR_PX
    inner = np.zeros_like(clear, bool)
    inner[edge : height - edge, edge : width - edge] = True
    if leave_out is not None:
        hidden = np.zeros(grey.shape, np.uint8)
        outline = np.rint(leave_out).astype(np.int32)
        cv2.fillConvexPoly(hidden, outline, (1,))
        cv2.polylines(hidden, [outline], True, (1,), SIDE_PX)
        inner &= hidden == 0
    clear[~inner] = 0.0
    found: list[tuple[float, int, int]] = []
    down, across = np.linspace(0, height, CELLS_DOWN + 1), np.linspace(0, width, CELLS_ACROSS + 1)
    for top, bottom in zip(down[:-1].astype(int), down[1:].astype(int), strict=True):
        for left, right in zip(across[:-1].astype(int), across[1:].astype(int), strict=True):
            for _ in range(MOST_IN_CELL):
                cell = clear[top:bottom, left:right]
                y, x = np.unravel_index(int(np.argmax(cell)), cell.shape)
                value = float(cell[y, x])
                if value < CORNER_LEAST:
                    break
                x_px, y_px = left + int(x), top + int(y)
                found.append((value, x_px, y_px))
                clear[
                    max(0, y_px - SIDE_PX) : y_px + SIDE_PX, max(0, x_px - SIDE_PX) : x_px + SIDE_PX
                ] = 0.0
    found.sort(reverse=True)
    places = [(x - SIDE_PX // 2, y - SIDE_PX // 2) for _, x, y in found[:MOST_PATCHES]]
    return np.array(places, np.int64).reshape(-1, 2)


def _touches(places: FloatArray, outline: FloatArray | None) -> BoolArray:
    """Say which patches with these middles touch a convex outline, (n,)."""
    if outline is None:
        return np.zeros(len(places), bool)
    polygon = outline.astype(np.float32).reshape(-1, 1, 2)
    reach = SIDE_PX / 2 * 2**0.5
    return np.array(
        [cv2.pointPolygonTest(polygon, (float(x), float(y)), True) > -reach for x, y in places],
        bool,
    )


def _contrast(grey: Grey) -> float:
    """Return the SD of a picture's detail in grey levels; soft shades and noise are left out."""
    small = cv2.resize(grey, SMALL_PX, interpolation=cv2.INTER_AREA).astype(np.float32)
    return float(np.std(small - cv2.GaussianBlur(small, (0, 0), 3.0)))


def _scale(width_px: int, height_px: int) -> float:
    """Return how a picture is reduced to be looked at; 1 for small ones."""
    return min(1.0, LOOK_SIDE_PX / max(width_px, height_px))


def _scaled(outline_px: FloatArray | None, scale: float) -> FloatArray | None:
    return None if outline_px is None else outline_px * scale


def _grey(picture: Picture) -> Grey:
    height_px, width_px = picture.shape[:2]
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    scale = _scale(width_px, height_px)
    if scale < 1.0:
        size = (round(width_px * scale), round(height_px * scale))
        grey = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    return np.asarray(grey, np.uint8)
