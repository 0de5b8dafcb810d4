"""From 33 landmarks to the rider's near side.

The rider's facing in the picture tells the side that the camera sees. After this everything works
on one set of coordinates, x forward and y up: mm at the bike where the camera is calibrated, else
picture px, x mirrored for a rider who faces left (the length unit, see ``envelope.LengthUnit``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from posewatch.core.doubts import Doubt
from posewatch.core.plane import PlaneMap
from posewatch.core.records import FloatArray, Frame, Side

#: Rows of a side's points. Landmark numbers: the pose model's published list of 33.
JOINTS = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe")
SHOULDER, ELBOW, WRIST, HIP, KNEE, ANKLE, HEEL, TOE = range(len(JOINTS))
LANDMARKS = {
    Side.LEFT: np.array([11, 13, 15, 23, 25, 27, 29, 31]),
    Side.RIGHT: np.array([12, 14, 16, 24, 26, 28, 30, 32]),
}
#: (2, 8): the near side's and the far side's landmarks of a rider who faces right (1), left (-1).
BOTH_SIDES = {
    1: np.stack((LANDMARKS[Side.RIGHT], LANDMARKS[Side.LEFT])),
    -1: np.stack((LANDMARKS[Side.LEFT], LANDMARKS[Side.RIGHT])),
}
NOSE = 0

MIN_VISIBILITY = 0.5
MIN_PRESENCE = 0.5
#: Facing is known at this many votes and turns only when the votes reach the other side.
FACING_VOTES = 15
FACING_VOTES_KEPT = 45
FACING_MIN_LEAN = 0.25
#: Shoulders so far apart along the picture (share of the trunk) are not seen from the side: at 15
#: degrees from square they are 0.15 apart, at 45 degrees 0.5.
MOST_SHOULDERS_APART = 0.35


@dataclass(frozen=True, slots=True)
class FacingState:
    """Votes for the facing: 1 = right in the picture, -1 = left, 0 = not known yet."""

    votes: int = 0
    facing: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class SidePoints:
    """Near- and far-labelled points of one picture.

    points: (2, 8, 2) float64 in the length unit; row 0 carries the near side's label, row 1 the far
    side's. doubts: (2, 8) uint8, why a point cannot even be looked at (``Doubt``).
    """

    points: FloatArray
    doubts: NDArray[np.uint8]


def near_side(facing: int) -> Side:
    """Return the side that the camera sees of a rider who faces right (1) or left (-1)."""
    return Side.RIGHT if facing > 0 else Side.LEFT


def vote_facing(state: FacingState, frame: Frame) -> FacingState:
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


def side_points(
    frame: Frame, facing: int, width_px: int, height_px: int, plane: PlaneMap | None
) -> SidePoints:
    """Return both labels' points and which of them can be looked at.

    A body that the picture's edge cuts off is not looked at: what a pose model makes of it shifts
    by a tenth of the body (whole rows of points, the shoulders too).
    """
    rows = BOTH_SIDES[facing]
    raw = frame.points_px[rows]
    x, y = raw[..., 0], raw[..., 1]
    inside = (x >= 0) & (x < width_px) & (y >= 0) & (y < height_px)
    visible = (frame.visibility[rows] >= MIN_VISIBILITY) & (frame.presence[rows] >= MIN_PRESENCE)
    nose_x, nose_y = frame.points_px[NOSE].tolist()
    whole = (
        bool((inside | np.isnan(x))[0].all()) and 0 <= nose_x < width_px and 0 <= nose_y < height_px
    )
    doubts = np.full(visible.shape, Doubt.NONE if whole else Doubt.CUT_OFF, np.uint8)
    if _at_an_angle(frame):
        doubts[:] = Doubt.AT_AN_ANGLE
    doubts[~inside] = Doubt.OFF_PICTURE
    doubts[~visible] = Doubt.NOT_VISIBLE
    if plane is None:
        return SidePoints(raw * (facing, -1.0), doubts)
    if plane.profile.view.side is not near_side(facing):
        doubts[:] = Doubt.OTHER_WAY
    return SidePoints(plane.to_bike_mm(raw), doubts)


def _at_an_angle(frame: Frame) -> bool:
    """Tell by the shoulders whether a body is seen more from the front or back than the side."""
    (left_x, left_y), (right_x, right_y) = frame.points_px[11:13].tolist()
    (hip_x, hip_y), (other_x, other_y) = frame.points_px[23:25].tolist()
    trunk_px = (
        math.hypot(left_x + right_x - hip_x - other_x, left_y + right_y - hip_y - other_y) / 2
    )
    return bool(abs(left_x - right_x) > MOST_SHOULDERS_APART * trunk_px)
