"""The one place that decides whether the rider is really seen, joint by joint, and why not.

No single number does: a pose model invents knees behind bodywork at a visibility of 0.8 and sees
riders in parked bikes. Visibility and presence, the whole body inside the picture, this rider's
segment lengths, speed limits, the place by the saddle and the pedal circle decide together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from posewatch.core.angles import body_angles_at
from posewatch.core.doubts import Doubt
from posewatch.core.envelope import Segments
from posewatch.core.landmarks import ANKLE, ELBOW, HIP, JOINTS, KNEE, SHOULDER, WRIST
from posewatch.core.records import NS_PER_S, FloatArray

#: Joints without which there is no rider.
ESSENTIAL = (SHOULDER, HIP, KNEE, ANKLE)
#: Nobody's joints move faster, thighs a second (the ankle has the crank filter's gate).
SPEED_LIMITS = ((SHOULDER, 4.0), (HIP, 4.0), (KNEE, 9.0))
#: A segment this far off its reference length (share) is not this rider's.
SEGMENT_SHARE = 0.3
#: A joint disbelieved for this long is taken up where it is now.
SPEED_MEMORY_S = 0.5
#: Jitter of a landmark between two pictures is not movement (share of the thigh).
SLACK_THIGHS = 0.15
#: The running lengths follow what is seen by at most this share a picture.
LENGTH_GAIN = 0.01
#: A hip this far from where the target's rider sits is somebody else's (thighs); standing on the
#: pedals moves it by a third of one.
REGION_THIGHS = 0.8

#: A hip so near to the forearm is behind it (thighs): half a forearm's breadth.
FOREARM_THIGHS = 0.13

Place = tuple[int, float, float]
Point = tuple[float, float]
#: x, y of each row of JOINTS.
Places = Sequence[Sequence[float]]


@dataclass(frozen=True, slots=True)
class BeliefState:
    """Reference lengths, the place of the saddle, and where believed joints last were.

    lengths: running trunk, thigh and shank lengths, or a target's; None before any were seen.
    held: the lengths are a target's and stay. seat: where the target's hip is, None without one.
    last: (t_ns, x, y) per row of SPEED_LIMITS.
    """

    lengths: Segments | None = None
    held: bool = False
    seat: Point | None = None
    last: tuple[Place | None, ...] = (None, None, None)


@dataclass(frozen=True, slots=True, eq=False)
class BodySample:
    """The near side of the rider in one picture, in the length unit.

    points: (8, 2) float64, rows as JOINTS, NaN where not believed; doubts: (8,) uint8, why not
    (``Doubt``). seen: shoulder, hip, knee and ankle are all believed. Angles in degrees, NaN where
    a joint of theirs is not believed. hip: (2,) the hip also where the ankle does not fit the
    crank's turning: who rises from the saddle has another foot.
    """

    t_ns: int
    points: FloatArray
    doubts: NDArray[np.uint8]
    hip: FloatArray
    seen: bool
    torso_deg: float
    knee_flexion_deg: float
    hip_included_deg: float

    def doubt(self) -> tuple[str, Doubt] | None:
        """Return the first essential joint that is not believed, and why; None = seen."""
        for joint in ESSENTIAL:
            if self.doubts[joint]:
                return JOINTS[joint], Doubt(int(self.doubts[joint]))
        return None


def nothing(t_ns: int, doubt: Doubt = Doubt.NOBODY) -> BodySample:
    """Return the sample of a picture in which nobody is believed."""
    points: FloatArray = np.full((len(JOINTS), 2), np.nan)
    doubts = np.full(len(JOINTS), doubt, np.uint8)
    return BodySample(t_ns, points, doubts, points[HIP], False, math.nan, math.nan, math.nan)


def believe(
    state: BeliefState, t_ns: int, points: FloatArray, doubts: NDArray[np.uint8], pedals: bool
) -> tuple[BeliefState, BodySample]:
    """Decide which joints of one side are believed.

    Args:
        state: reference lengths and last places.
        t_ns: time of the picture.
        points: (8, 2) float64, in the length unit.
        doubts: (8,) uint8, from ``landmarks.side_points``.
        pedals: False where the ankle did not fit the crank's turning.
    """
    places = points.tolist()
    found = doubts.tolist()
    looked_at = [doubt == Doubt.NONE for doubt in found]
    for joint in _out_of_proportion(state.lengths, places, looked_at):
        found[joint] = Doubt.LENGTH
    if state.seat is not None and not found[HIP] and _off_region(state, places[HIP]):
        found = [doubt or Doubt.OFF_REGION for doubt in found]
    if not (found[ELBOW] or found[WRIST] or found[HIP]) and _behind_forearm(state.lengths, places):
        found[HIP] = Doubt.BEHIND_ARM  # a model goes on seeing it at full visibility
    hip = points[HIP] if not found[HIP] else np.full(2, np.nan)
    if not pedals:  # the other joints may be somebody else's too
        found = [doubt or Doubt.NOT_PEDALLING for doubt in found]
    last = list(state.last)
    for row, (joint, limit) in enumerate(SPEED_LIMITS):
        if not found[joint]:
            x, y = places[joint]
            if _too_fast(state, row, limit, t_ns, x, y):
                found[joint] = Doubt.TOO_FAST
            else:
                last[row] = (t_ns, x, y)
    lengths = state.lengths
    # Whatever can be looked at moves them, fitting or not: a wrong start must not stay for ever.
    if not state.held and all(looked_at[joint] for joint in ESSENTIAL):
        lengths = _follow_lengths(lengths, places)
    return (
        BeliefState(lengths, state.held, state.seat, (last[0], last[1], last[2])),
        sample(t_ns, points, np.array(found, np.uint8), hip),
    )


def sample(t_ns: int, points: FloatArray, doubts: NDArray[np.uint8], hip: FloatArray) -> BodySample:
    """Return what a picture's points say, those with a doubt left out; shapes as BodySample."""
    believed = points.copy()
    believed[doubts != Doubt.NONE] = np.nan
    places = believed.tolist()
    angles = body_angles_at(places[SHOULDER], places[HIP], places[KNEE], places[ANKLE])
    seen = not any(doubts[joint] for joint in ESSENTIAL)
    return BodySample(t_ns, believed, doubts, hip, seen, *angles)


def _off_region(state: BeliefState, hip: Sequence[float]) -> bool:
    assert state.seat is not None
    assert state.lengths is not None
    return math.dist(hip, state.seat) > REGION_THIGHS * state.lengths.thigh


def _behind_forearm(lengths: Segments | None, places: Places) -> bool:
    """Tell whether the near forearm covers the hip in the picture."""
    if lengths is None:
        return False
    (elbow_x, elbow_y), (wrist_x, wrist_y), (hip_x, hip_y) = (
        places[joint] for joint in (ELBOW, WRIST, HIP)
    )
    along_x, along_y = wrist_x - elbow_x, wrist_y - elbow_y
    to_x, to_y = hip_x - elbow_x, hip_y - elbow_y
    length2 = along_x * along_x + along_y * along_y
    share = (to_x * along_x + to_y * along_y) / length2 if length2 > 0 else 0.0
    share = min(1.0, max(0.0, share))
    off = math.hypot(to_x - share * along_x, to_y - share * along_y)
    return off < FOREARM_THIGHS * lengths.thigh


def segment_lengths(places: Places) -> tuple[float, float, float]:
    """Return the trunk's, thigh's and shank's length of 8 points."""
    return (
        math.dist(places[SHOULDER], places[HIP]),
        math.dist(places[HIP], places[KNEE]),
        math.dist(places[KNEE], places[ANKLE]),
    )


def _out_of_proportion(
    lengths: Segments | None, places: Places, looked_at: Sequence[bool]
) -> set[int]:
    """Return the joints of segments that are not of the rider's length.

    A segment with an end that cannot be looked at tells nothing of its other end.
    """
    if lengths is None:
        return set()
    found = set()
    trunk, thigh, shank = segment_lengths(places)
    for length, usual, one, other in (
        (trunk, lengths.trunk, SHOULDER, HIP),
        (thigh, lengths.thigh, HIP, KNEE),
        (shank, lengths.shank, KNEE, ANKLE),
    ):
        ends_seen = looked_at[one] and looked_at[other]
        if ends_seen and not abs(length - usual) <= SEGMENT_SHARE * usual:
            found |= {one, other}
    return found


def _too_fast(state: BeliefState, row: int, limit: float, t_ns: int, x: float, y: float) -> bool:
    last = state.last[row]
    if last is None or state.lengths is None:
        return False
    dt_s = (t_ns - last[0]) / NS_PER_S
    if dt_s > SPEED_MEMORY_S:
        return False
    way = math.hypot(x - last[1], y - last[2]) - SLACK_THIGHS * state.lengths.thigh
    return way > limit * state.lengths.thigh * dt_s


def _follow_lengths(lengths: Segments | None, places: Places) -> Segments:
    """Move each reference a little towards what is seen: a running median."""
    seen = segment_lengths(places)
    if lengths is None:
        return Segments(*seen)
    usual = (lengths.trunk, lengths.thigh, lengths.shank)
    return Segments(
        *(
            u + max(-LENGTH_GAIN * u, min(LENGTH_GAIN * u, s - u))
            for u, s in zip(usual, seen, strict=True)
        )
    )
