"""One picture's landmarks to the near side's body sample, the crank angle and the leg's chain."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from posewatch.core import belief, crank, landmarks, leg_chain
from posewatch.core.belief import BeliefState, BodySample
from posewatch.core.crank import CrankReading, CrankState
from posewatch.core.doubts import Doubt
from posewatch.core.envelope import Target
from posewatch.core.landmarks import ANKLE, HIP, KNEE, SHOULDER, TOE, FacingState
from posewatch.core.leg_chain import LegCurves, LegEstimate, LegModel, LegState
from posewatch.core.measuring_chain import MeasuringChain, PointSource
from posewatch.core.pedal_circle import CrankGeometry, Point
from posewatch.core.plane import PlaneMap
from posewatch.core.records import Frame, Side

LEG = [HIP, KNEE, ANKLE]


@dataclass(frozen=True, slots=True)
class Watched:
    """What is looked at: pictures of one size, through a calibrated camera or not.

    pedal_row: the joint that goes round with the crank: the ankle, or the pedal spindle's dot.
    leg: the target's curves, None before there is a target.
    """

    width_px: int
    height_px: int
    plane: PlaneMap | None
    pedal_row: int
    leg: LegModel | None = None


@dataclass(frozen=True, slots=True)
class TrackState:
    """What is remembered from picture to picture."""

    watched: Watched
    facing: FacingState = FacingState()
    belief: BeliefState = BeliefState()
    crank: CrankState = CrankState()
    leg: LegState | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Tracked:
    """What one picture says.

    side is None until the rider's facing is known; leg until there is a target and a crank angle.
    """

    t_ns: int
    side: Side | None
    body: BodySample
    crank: CrankReading
    leg: LegEstimate | None = None


def start(chain: MeasuringChain, plane: PlaneMap | None) -> TrackState:
    """Return the state before the first picture of a rider of whom nothing is known.

    plane: the calibrated camera's; None = uncalibrated.
    """
    pedal_row = TOE if chain.points is PointSource.DOTS else ANKLE
    return TrackState(Watched(chain.width_px, chain.height_px, plane, pedal_row))


def with_target(state: TrackState, target: Target) -> TrackState:
    """Return the state with a target's circle, map, leg and lengths."""
    known = with_geometry(state, target.crank, target.leg)
    hip_x, hip_y = target.leg.curves[0][0], target.leg.curves[1][0]
    return replace(
        known, belief=BeliefState(lengths=target.segments, held=True, seat=(hip_x, hip_y))
    )


def with_geometry(
    state: TrackState, geometry: CrankGeometry, leg: LegCurves | None = None
) -> TrackState:
    """Return the state with a circle and map, and a leg, already learned."""
    model = None if leg is None else leg_chain.leg_model(leg)
    return replace(
        state, watched=replace(state.watched, leg=model), crank=CrankState(geometry=geometry)
    )


def step(state: TrackState, frame: Frame) -> tuple[TrackState, Tracked]:
    """Take in one picture's landmarks."""
    watched = state.watched
    facing = landmarks.vote_facing(state.facing, frame)
    if facing.facing == 0:
        state = replace(state, facing=facing)
        return state, Tracked(frame.t_ns, None, belief.nothing(frame.t_ns), crank.UNKNOWN)
    both = landmarks.side_points(
        frame, facing.facing, watched.width_px, watched.height_px, watched.plane
    )
    lengths = state.belief.lengths
    crank_state, reading = crank.step(
        state.crank,
        frame.t_ns,
        _pedal_point(both, 0, watched),
        _pedal_point(both, 1, watched),
        math.nan if lengths is None else lengths.thigh,
    )
    row = 1 if reading.swapped else 0
    believed, body = belief.believe(
        state.belief,
        frame.t_ns,
        both.points[row],
        both.doubts[row],
        reading.measured or not reading.known,
    )
    leg, estimate = _follow_leg(watched.leg, state.leg, body, reading)
    side = landmarks.near_side(facing.facing)
    tracked = Tracked(frame.t_ns, side, body, reading, estimate)
    return TrackState(watched, facing, believed, crank_state, leg), tracked


def _pedal_point(both: landmarks.SidePoints, row: int, watched: Watched) -> Point | None:
    """Return what a label has on the pedal, if it and the leg that it belongs to can be looked at.

    With a leg's chain the knee does for a hip that is hidden: the chain carries it.
    """
    joint = watched.pedal_row
    doubts = both.doubts[row].tolist()
    if doubts[joint] or (doubts[HIP] and (watched.leg is None or doubts[KNEE])):
        return None
    x, y = both.points[row, joint].tolist()
    return x, y


def _follow_leg(
    model: LegModel | None, state: LegState | None, body: BodySample, reading: CrankReading
) -> tuple[LegState | None, LegEstimate | None]:
    """Take the picture into the leg's chain, once there is one and a crank angle."""
    if model is None or not reading.known:
        return None, None
    leg, estimate = leg_chain.step(
        model,
        state,
        body.t_ns,
        reading.angle_rad,
        body.points[LEG],
        body.doubts[LEG] == Doubt.NONE,
    )
    if estimate is not None and estimate.carried and body.doubts[SHOULDER]:
        estimate = None
    return leg, estimate
