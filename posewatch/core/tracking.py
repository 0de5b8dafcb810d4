"""One picture's landmarks to the near side's body sample and the crank angle."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from posewatch.core import crank, landmarks
from posewatch.core.crank import CrankReading, CrankState
from posewatch.core.envelope import Target
from posewatch.core.landmarks import ANKLE, HIP, BeliefState, BodySample
from posewatch.core.pedal_circle import CrankGeometry, Point
from posewatch.core.records import FloatArray, Frame, Side


@dataclass(frozen=True, slots=True)
class TrackState:
    """What is remembered from picture to picture. width_px, height_px: the picture's size."""

    width_px: int
    height_px: int
    belief: BeliefState = BeliefState()
    crank: CrankState = CrankState()


@dataclass(frozen=True, slots=True, eq=False)
class Tracked:
    """What one picture says. side is None until the rider's facing is known."""

    t_ns: int
    side: Side | None
    body: BodySample
    crank: CrankReading


def start(width_px: int, height_px: int, target: Target | None = None) -> TrackState:
    """Return the state before the first picture; a target brings its circle, map and lengths."""
    if target is None:
        return TrackState(width_px, height_px)
    return TrackState(
        width_px,
        height_px,
        BeliefState(lengths=target.segments, held=True),
        CrankState(geometry=target.crank),
    )


def start_with_geometry(width_px: int, height_px: int, geometry: CrankGeometry) -> TrackState:
    """Return the state before the first picture with a circle and map already learned."""
    return TrackState(width_px, height_px, crank=CrankState(geometry=geometry))


def step(state: TrackState, frame: Frame) -> tuple[TrackState, Tracked]:
    """Take in one picture's landmarks."""
    belief = landmarks.vote_facing(state.belief, frame)
    if belief.facing == 0:
        return replace(state, belief=belief), Tracked(
            frame.t_ns, None, _nothing(frame.t_ns), crank.UNKNOWN
        )
    both = landmarks.side_points(frame, belief.facing, state.width_px, state.height_px)
    lengths = belief.lengths
    crank_state, reading = crank.step(
        state.crank,
        frame.t_ns,
        _ankle(both, 0),
        _ankle(both, 1),
        math.nan if lengths is None else lengths.thigh_px,
    )
    row = 1 if reading.swapped else 0
    belief, body = landmarks.believe(belief, frame.t_ns, both.points_px[row], both.trusted[row])
    tracked = Tracked(frame.t_ns, landmarks.near_side(belief.facing), body, reading)
    return replace(state, belief=belief, crank=crank_state), tracked


def _ankle(both: landmarks.SidePoints, row: int) -> Point | None:
    """Return a label's ankle if it and its hip can be looked at."""
    if not (both.trusted[row, ANKLE] and both.trusted[row, HIP]):
        return None
    x, y = both.points_px[row, ANKLE]
    return float(x), float(y)


def _nothing(t_ns: int) -> BodySample:
    points: FloatArray = np.full((len(landmarks.JOINTS), 2), np.nan)
    return BodySample(t_ns, points, False, math.nan, math.nan, math.nan)
