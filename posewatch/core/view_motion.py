"""How a picture's background lies against the one kept at set-up: shifted, scaled, turned.

All px here are picture px: x right, y down, (0, 0) at the outer corner of the top left pixel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from posewatch.core.records import BoolArray, FloatArray

#: Lengths below are for pictures of this longer side, and grow with larger ones.
SIZE_FOR_PX = 640
#: Fewer visible patches than this tell nothing.
MIN_PATCHES = 8
#: Patches that move as one must be this share of those that could be seen.
CONSENSUS_LEAST = 0.25
TOLERANCE_PX = 1.0
#: Patches nearer together than this tell no scale and no turn.
APART_PX = 60.0
#: Scales beyond these are no motion but a chance.
SCALE_LEAST, SCALE_MOST = 0.8, 1.25


@dataclass(frozen=True, slots=True, eq=False)
class Background:
    """Still background at set-up: patches, never a whole picture.

    width_px, height_px: of the picture. patches: (n, side, side) uint8 grey, of the picture or of
    one reduced. places_px: (n, 2) float64, the middles of the patches. sharpness: (n,) float64,
    the share of fine detail in each patch's contrast.
    """

    width_px: int
    height_px: int
    patches: NDArray[np.uint8]
    places_px: FloatArray
    sharpness: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Findings:
    """What one look for a background found, a row a patch.

    width_px, height_px: of the picture. places_px: (n, 2), where each was at set-up. shifts_px:
    (n, 2), how far from there it is; NaN = not found. correlation: (n,), -1 to 1; NaN = not
    looked for. sharpness: (n,), fine detail as a share of that at set-up; NaN = not found.
    expected: (n,), False = the rider may hide it, so it is no evidence. contrast: SD of the
    picture's detail in grey levels.
    """

    width_px: int
    height_px: int
    places_px: FloatArray
    shifts_px: FloatArray
    correlation: FloatArray
    sharpness: FloatArray
    expected: BoolArray
    contrast: float


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """How the picture's content lies now: shift of its middle, scale, turn (clockwise).

    agree: (n,) which patches move as one so.
    """

    shift_px: tuple[float, float]
    scale: float
    roll_deg: float
    agree: BoolArray


def motion(findings: Findings, tolerance_px: float = TOLERANCE_PX) -> Motion | None:
    """Return how the largest group of patches that move as one moves; None = too few do.

    A shift, scale and roll (a similarity) is tried from each found patch alone, from pairs of
    patches far apart, and first of all from a view that stands; that with the most patches within
    the tolerance is fitted to these by least squares.

    Args:
        findings: one look.
        tolerance_px: in px of a picture of SIZE_FOR_PX; grows with larger ones.
    """
    usable = findings.expected & np.isfinite(findings.shifts_px).all(axis=1)
    least = max(MIN_PATCHES, CONSENSUS_LEAST * np.count_nonzero(findings.expected))
    if np.count_nonzero(usable) < least:
        return None
    tolerance_px *= size(findings)
    middle = complex(findings.width_px / 2, findings.height_px / 2)
    before = findings.places_px[usable] @ np.array([1, 1j]) - middle
    after = before + findings.shifts_px[usable] @ np.array([1, 1j])
    turns, offsets = _candidates(before, after, APART_PX * size(findings))
    misses = np.abs(turns[:, None] * before + offsets[:, None] - after)
    best = int(np.argmax(np.count_nonzero(misses <= tolerance_px, axis=1)))
    turn, offset = complex(turns[best]), complex(offsets[best])
    for _ in range(2):
        near = np.abs(turn * before + offset - after) <= tolerance_px
        if np.count_nonzero(near) < least:
            return None
        turn, offset = _least_squares(before[near], after[near], APART_PX * size(findings))
    agree = np.zeros(len(usable), bool)
    agree[np.flatnonzero(usable)[near]] = True
    roll_deg = math.degrees(math.atan2(turn.imag, turn.real))
    return Motion((offset.real, offset.imag), abs(turn), roll_deg, agree)


def moved_places_px(findings: Findings, moved: Motion) -> FloatArray:
    """Return where a motion takes every patch of a look: (n, 2) float64."""
    middle = np.array([findings.width_px / 2, findings.height_px / 2])
    roll = math.radians(moved.roll_deg)
    turn = moved.scale * np.array(
        [[math.cos(roll), -math.sin(roll)], [math.sin(roll), math.cos(roll)]]
    )
    places: FloatArray = (findings.places_px - middle) @ turn.T + middle + moved.shift_px
    return places


def size(findings: Findings) -> float:
    """Return how much larger the picture is than the limits are for; 1 for smaller ones."""
    return max(1.0, max(findings.width_px, findings.height_px) / SIZE_FOR_PX)


_Complex = NDArray[np.complex128]


def _candidates(before: _Complex, after: _Complex, apart_px: float) -> tuple[_Complex, _Complex]:
    """Return (m,) turns and offsets to try: after = turn * before + offset, as complex numbers."""
    n = len(before)
    one = np.arange(n)
    pairs = np.concatenate([np.stack([one, (one + n * k // 8) % n]) for k in range(1, 5)], axis=1)
    first, second = pairs[:, np.abs(before[pairs[1]] - before[pairs[0]]) > apart_px]
    turns = (after[second] - after[first]) / (before[second] - before[first])
    offsets = after[first] - turns * before[first]
    likely = (np.abs(turns) > SCALE_LEAST) & (np.abs(turns) < SCALE_MOST)
    return (
        np.concatenate([np.ones(1 + n, np.complex128), turns[likely]]),
        np.concatenate([np.zeros(1), after - before, offsets[likely]]),
    )


def _least_squares(before: _Complex, after: _Complex, spread_px: float) -> tuple[complex, complex]:
    """Return the turn and offset that fit best; a shift alone for patches close together."""
    inner, outer = before - before.mean(), after - after.mean()
    power = float(np.sum(np.abs(inner) ** 2))
    turn = complex(1.0)
    if power > len(before) * spread_px**2:
        turn = complex(np.sum(np.conj(inner) * outer) / power)
    return turn, complex(after.mean() - turn * before.mean())
