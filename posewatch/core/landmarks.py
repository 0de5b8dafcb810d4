"""From 33 landmarks to the rider's near side, and whether to believe it.

The rider's facing in the picture tells the side that the camera sees; x is mirrored for a rider
who faces left, so that everything after this works on one set of coordinates: canonical image px,
x forward, y up. One place decides, per landmark, whether it is believed; no single number does,
since a pose model also sees riders in parked bikes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from posewatch.core.angles import body_angles
from posewatch.core.envelope import Segments
from posewatch.core.records import NS_PER_S, BoolArray, FloatArray, Frame, Side

#: Rows of a side's points. Landmark numbers: the pose model's published list of 33.
JOINTS = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe")
SHOULDER, ELBOW, WRIST, HIP, KNEE, ANKLE, HEEL, TOE = range(len(JOINTS))
#: Nobody's joints move faster, thighs a second (the ankle has the crank filter's gate).
SPEED_LIMITS = ((SHOULDER, 4.0), (HIP, 4.0), (KNEE, 9.0))
LANDMARKS = {
    Side.LEFT: np.array([11, 13, 15, 23, 25, 27, 29, 31]),
    Side.RIGHT: np.array([12, 14, 16, 24, 26, 28, 30, 32]),
}

MIN_VISIBILITY = 0.5
MIN_PRESENCE = 0.5
#: A segment this far off its reference length (share) is not this rider's.
SEGMENT_SHARE = 0.3
#: A joint disbelieved for this long is taken up where it is now.
SPEED_MEMORY_S = 0.5
#: Jitter of a landmark between two pictures is not movement (share of the thigh).
SLACK_THIGHS = 0.15
#: The running lengths follow what is seen by at most this share a picture.
LENGTH_GAIN = 0.01
#: Facing is known at this many votes and turns only when the votes reach the other side.
FACING_VOTES = 15
FACING_VOTES_KEPT = 45
FACING_MIN_LEAN = 0.25


Place = tuple[int, float, float]


@dataclass(frozen=True, slots=True)
class BeliefState:
    """Votes for the facing, reference lengths, and where believed joints last were.

    facing: 1 = the rider faces right in the picture, -1 = left, 0 = not known yet.
    lengths: running trunk, thigh and shank lengths, or a target's; None before any were seen.
    held: the lengths are a target's and stay. last: (t_ns, x, y) per row of SPEED_LIMITS.
    """

    votes: int = 0
    facing: int = 0
    lengths: Segments | None = None
    held: bool = False
    last: tuple[Place | None, ...] = (None, None, None)


@dataclass(frozen=True, slots=True, eq=False)
class BodySample:
    """The near side of the rider in one picture, canonical px.

    points_px: (8, 2) float64, rows as JOINTS, NaN where not believed. seen: shoulder, hip, knee and
    ankle are all believed. Angles in degrees, NaN where a joint of theirs is not believed.
    """

    t_ns: int
    points_px: FloatArray
    seen: bool
    torso_deg: float
    knee_flexion_deg: float
    hip_included_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class SidePoints:
    """Near- and far-labelled points of one picture.

    points_px: (2, 8, 2) float64, canonical px; row 0 carries the near side's label, row 1 the far
    side's. trusted: (2, 8) bool, visible enough and inside the picture.
    """

    points_px: FloatArray
    trusted: BoolArray


def near_side(facing: int) -> Side:
    """Return the side that the camera sees of a rider who faces right (1) or left (-1)."""
    return Side.RIGHT if facing > 0 else Side.LEFT


def vote_facing(state: BeliefState, frame: Frame) -> BeliefState:
    """Count one picture's vote; the rider leans towards where he faces."""
    points = frame.points_px
    shoulders, hips = points[11:13].mean(axis=0), points[23:25].mean(axis=0)
    lean = shoulders - hips
    length = math.hypot(lean[0], lean[1])
    if not length > 0 or abs(lean[0]) < FACING_MIN_LEAN * length:
        return state
    if min(frame.visibility[11:13].max(), frame.visibility[23:25].max()) < MIN_VISIBILITY:
        return state
    votes = state.votes + (1 if lean[0] > 0 else -1)
    votes = max(-FACING_VOTES_KEPT, min(FACING_VOTES_KEPT, votes))
    facing = state.facing
    if abs(votes) >= FACING_VOTES:
        facing = 1 if votes > 0 else -1
    if (votes, facing) == (state.votes, state.facing):
        return state
    return replace(state, votes=votes, facing=facing)


def side_points(frame: Frame, facing: int, width_px: int, height_px: int) -> SidePoints:
    """Return both labels' points in canonical px and which of them can be looked at."""
    near = near_side(facing)
    far = Side.LEFT if near is Side.RIGHT else Side.RIGHT
    rows = np.stack((LANDMARKS[near], LANDMARKS[far]))
    raw = frame.points_px[rows]
    inside = (raw >= 0).all(axis=2) & (raw < (width_px, height_px)).all(axis=2)
    visible = frame.visibility[rows] >= MIN_VISIBILITY
    present = frame.presence[rows] >= MIN_PRESENCE
    return SidePoints(raw * (facing, -1.0), inside & visible & present)


def believe(
    state: BeliefState, t_ns: int, points_px: FloatArray, trusted: BoolArray
) -> tuple[BeliefState, BodySample]:
    """Decide which joints of one side are believed.

    Args:
        state: reference lengths and last places.
        t_ns: time of the picture.
        points_px: (8, 2) float64, canonical px.
        trusted: (8,) bool, from :func:`side_points`.
    """
    believed = trusted & _in_proportion(state.lengths, points_px)
    last = list(state.last)
    for row, (joint, limit) in enumerate(SPEED_LIMITS):
        if believed[joint]:
            x, y = float(points_px[joint, 0]), float(points_px[joint, 1])
            if _too_fast(state, row, limit, t_ns, x, y):
                believed[joint] = False
            else:
                last[row] = (t_ns, x, y)
    points = np.where(believed[:, None], points_px, np.nan)
    seen = bool(believed[[SHOULDER, HIP, KNEE, ANKLE]].all())
    angles = body_angles(points[SHOULDER], points[HIP], points[KNEE], points[ANKLE])
    lengths = state.lengths
    # Whatever can be looked at moves them, fitting or not: a wrong start must not stay for ever.
    if trusted[[SHOULDER, HIP, KNEE, ANKLE]].all() and not state.held:
        lengths = _follow_lengths(lengths, points_px)
    return replace(state, lengths=lengths, last=tuple(last)), BodySample(
        t_ns, points, seen, *(float(angle) for angle in angles)
    )


def _segment_lengths(points_px: FloatArray) -> tuple[float, float, float]:
    steps = points_px[[SHOULDER, KNEE, KNEE]] - points_px[[HIP, HIP, ANKLE]]
    trunk, thigh, shank = np.hypot(steps[:, 0], steps[:, 1])
    return float(trunk), float(thigh), float(shank)


def _in_proportion(lengths: Segments | None, points_px: FloatArray) -> BoolArray:
    """Return (8,) bool, False for joints of a segment that is not of the rider's length."""
    fits = np.ones(len(JOINTS), np.bool_)
    if lengths is None:
        return fits
    trunk, thigh, shank = _segment_lengths(points_px)
    for length, usual, joints in (
        (trunk, lengths.trunk_px, [SHOULDER, HIP]),
        (thigh, lengths.thigh_px, [HIP, KNEE]),
        (shank, lengths.shank_px, [KNEE, ANKLE]),
    ):
        if not abs(length - usual) <= SEGMENT_SHARE * usual:
            fits[joints] = False
    return fits


def _too_fast(state: BeliefState, row: int, limit: float, t_ns: int, x: float, y: float) -> bool:
    last = state.last[row]
    if last is None or state.lengths is None:
        return False
    dt_s = (t_ns - last[0]) / NS_PER_S
    if dt_s > SPEED_MEMORY_S:
        return False
    way = math.hypot(x - last[1], y - last[2]) - SLACK_THIGHS * state.lengths.thigh_px
    return way > limit * state.lengths.thigh_px * dt_s


def _follow_lengths(lengths: Segments | None, points_px: FloatArray) -> Segments:
    """Move each reference a little towards what is seen: a running median."""
    seen = _segment_lengths(points_px)
    if lengths is None:
        return Segments(*seen)
    usual = (lengths.trunk_px, lengths.thigh_px, lengths.shank_px)
    return Segments(
        *(
            u + max(-LENGTH_GAIN * u, min(LENGTH_GAIN * u, s - u))
            for u, s in zip(usual, seen, strict=True)
        )
    )
