"""Whether the camera still shows what it showed at set-up.

Small grey patches of the still background, kept at set-up, are looked for in a picture now and
then. From where they are found, :func:`step` tells over time whether the view stands, has moved,
turned or zoomed, lost its focus, or is another view altogether. A passing person hides patches and
moves none; a bump is over in less than a second: neither is a move.

All px here are picture px: x right, y down, (0, 0) at the outer corner of the top left pixel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from posewatch.core.records import NS_PER_S, FloatArray
from posewatch.core.view_motion import MIN_PATCHES, Findings, motion, size

#: Beyond these the view is not that of the set-up; it is again within half of them. The shift is
#: for pictures of up to 640 px on the longer side, and grows with larger ones: the same in mm.
SHIFT_LIMIT_PX = 1.5
SCALE_LIMIT = 0.005
ROLL_LIMIT_DEG = 0.3
#: Fine detail that the picture keeps, as a share of what it had at set-up.
SHARPNESS_LEAST, SHARPNESS_MOST = 0.7, 1.25
SHARPNESS_LEAST_BACK, SHARPNESS_MOST_BACK = 0.8, 1.15
#: Less detail than this (SD in grey levels, shades left out) is a dark or covered lens.
CONTRAST_LEAST = 1.0
#: So many patches that stand this exactly are no chance: the rest is hidden, not another view.
STANDING_LEAST, STANDING_PX = 5, 0.5
#: A finding needs this many looks, besides its time in STANDS_NS.
MIN_LOOKS = 3
#: A look's numbers are the medians of those over so long. A move that is a limit further or back at
#: the next look does not stand: something rocks.
MEDIAN_OVER_NS = NS_PER_S


class View(StrEnum):
    """What became of the camera's view since set-up."""

    STILL = "still"
    MOVED = "moved"
    ZOOMED = "zoomed"
    OUT_OF_FOCUS = "out of focus"
    ANOTHER = "another view"
    CANNOT_TELL = "cannot tell"


DEPARTED = frozenset({View.MOVED, View.ZOOMED, View.OUT_OF_FOCUS, View.ANOTHER})
_MOVED = frozenset({View.MOVED, View.ZOOMED})
#: How long a finding must stand, and which looks keep it standing.
STANDS_NS: dict[View, tuple[int, frozenset[View]]] = {
    View.STILL: (2 * NS_PER_S, frozenset({View.STILL})),
    View.MOVED: (1 * NS_PER_S, _MOVED),
    View.ZOOMED: (1 * NS_PER_S, _MOVED),
    View.OUT_OF_FOCUS: (2 * NS_PER_S, frozenset({View.OUT_OF_FOCUS})),
    View.ANOTHER: (3 * NS_PER_S, DEPARTED),
    View.CANNOT_TELL: (1 * NS_PER_S, frozenset({View.CANNOT_TELL})),
}


@dataclass(frozen=True, slots=True)
class Glance:
    """One look's numbers, as in Motion; sharpness: the patches' median share of that at set-up."""

    t_ns: int
    right_px: float = 0.0
    down_px: float = 0.0
    scale: float = 1.0
    roll_deg: float = 0.0
    sharpness: float = 1.0


@dataclass(frozen=True, slots=True)
class ViewState:
    """What stands, and the memory to tell.

    view: what stands. departed: True from a view that is not that of the set-up until it is again,
    whatever else is found meanwhile. now: the latest numbers. glances: those of the last second.
    runs: for each finding that may come to stand, since when and over how many looks.
    """

    view: View = View.STILL
    departed: bool = False
    now: Glance = Glance(0)
    glances: tuple[Glance, ...] = ()
    runs: tuple[tuple[View, int, int], ...] = ()


def step(state: ViewState, findings: Findings, t_ns: int) -> ViewState:
    """Take in one look; times must rise."""
    glance = _glance(findings, t_ns)
    glances = tuple(g for g in state.glances if t_ns - g.t_ns <= MEDIAN_OVER_NS)
    runs = {view: (since_ns, n_looks) for view, since_ns, n_looks in state.runs}
    now = state.now
    if glance is None:
        found = View.ANOTHER if _shows_another(findings) else View.CANNOT_TELL
    else:
        glances = (*glances, glance)
        now = _median(glances, t_ns)
        before, after = (_of_limits(g, size(findings)) for g in (state.now, now))
        found = _judged(now, after, state.departed)
        if _length(after - before) > max(1.0, _length(after) / 2):
            runs = {view: run for view, run in runs.items() if view not in _MOVED}
    for view, (_, keeps) in STANDS_NS.items():
        since_ns, n_looks = runs.pop(view, (t_ns, 0))
        if found in keeps:
            runs[view] = since_ns, n_looks + 1
    state = replace(
        state, now=now, glances=glances, runs=tuple((view, *run) for view, run in runs.items())
    )
    since_ns, n_looks = runs[found]
    if n_looks < MIN_LOOKS or t_ns - since_ns < STANDS_NS[found][0]:
        return state
    departed = found in DEPARTED or (state.departed and found is View.CANNOT_TELL)
    return replace(state, view=found, departed=departed)


def describe(state: ViewState) -> str:
    """Say what stands, for the person at the screen; directions as seen from behind the camera."""
    now = state.now
    if state.view is View.MOVED:
        ways = [
            f"{abs(px):.0f} px {way}"
            for px, way in (
                (now.right_px, "to the left" if now.right_px > 0 else "to the right"),
                (now.down_px, "up" if now.down_px > 0 else "down"),
            )
            if abs(px) >= 0.5
        ]
        words = f"moved by {' and '.join(ways)}" if ways else ""
        if abs(now.roll_deg) > ROLL_LIMIT_DEG / 2:
            way = "anticlockwise" if now.roll_deg > 0 else "clockwise"
            turned = f"turned by {abs(now.roll_deg):.1f} degrees {way}"
            words = f"{words} and {turned}" if words else turned
        return f"The camera has {words or 'moved'}."
    if state.view is View.ZOOMED:
        way = "in, or moved nearer," if now.scale > 1 else "out, or moved away,"
        return f"The camera has zoomed {way} by {abs(now.scale - 1) * 100:.1f} %."
    if state.view is View.OUT_OF_FOCUS:
        if now.sharpness > 1:
            return "The picture is sharper than at set-up: the focus has changed."
        return "The picture is out of focus."
    if state.view is View.ANOTHER:
        return "The camera shows another view, is far out of focus, or something stands before it."
    if state.view is View.CANNOT_TELL:
        return "Too little of the background can be seen to tell whether the camera has moved."
    return "The camera stands as at set-up."


def _glance(findings: Findings, t_ns: int) -> Glance | None:
    """Return one look's numbers; None = no motion can be told."""
    moved = motion(findings) if findings.contrast >= CONTRAST_LEAST else None
    if moved is None:
        return None
    sharpness = findings.sharpness[moved.agree]
    sharpness = sharpness[np.isfinite(sharpness)]
    median = float(np.median(sharpness)) if len(sharpness) else 1.0
    return Glance(t_ns, *moved.shift_px, moved.scale, moved.roll_deg, median)


def _shows_another(findings: Findings) -> bool:
    """Say whether a picture in which no motion can be told is of something else."""
    if findings.contrast < CONTRAST_LEAST or np.count_nonzero(findings.expected) < MIN_PATCHES:
        return False
    away_px = np.hypot(*findings.shifts_px[findings.expected].T)
    return int(np.count_nonzero(away_px <= STANDING_PX * size(findings))) < STANDING_LEAST


def _median(glances: tuple[Glance, ...], t_ns: int) -> Glance:
    rows = [(g.right_px, g.down_px, g.scale, g.roll_deg, g.sharpness) for g in glances]
    return Glance(t_ns, *(float(value) for value in np.median(rows, axis=0)))


def _of_limits(glance: Glance, larger: float) -> FloatArray:
    """Return shift right and down, scale and roll as multiples of their limits, (4,)."""
    shift_limit_px = SHIFT_LIMIT_PX * larger
    return np.array(
        [
            glance.right_px / shift_limit_px,
            glance.down_px / shift_limit_px,
            (glance.scale - 1.0) / SCALE_LIMIT,
            glance.roll_deg / ROLL_LIMIT_DEG,
        ]
    )


def _length(of_limits: FloatArray) -> float:
    """Return how far a motion goes, in limits: the shift as a whole, or whatever is more."""
    right, down, scale, roll = (float(value) for value in of_limits)
    return max(math.hypot(right, down), abs(scale), abs(roll))


def _judged(now: Glance, of_limits: FloatArray, departed: bool) -> View:
    """Return what numbers mean; a view that departed must come back well within the limits."""
    if _length(of_limits) > (0.5 if departed else 1.0):
        return View.ZOOMED if abs(of_limits[2]) == _length(of_limits) else View.MOVED
    least, most = (
        (SHARPNESS_LEAST_BACK, SHARPNESS_MOST_BACK)
        if departed
        else (SHARPNESS_LEAST, SHARPNESS_MOST)
    )
    return View.STILL if least <= now.sharpness <= most else View.OUT_OF_FOCUS
