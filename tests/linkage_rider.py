"""A planar linkage rider: exact joints from a crank angle, drawn as landmarks.

Dimensions and the table that tests check are the synthetic rider of the project's reference
arithmetic: thigh .441, shank .443, crank .170 m, crank axis (0, 0), hip (-.205, .800), ankle =
pedal + (-.070, +.135), trunk 42 degrees; knee = forward intersection of the two circles.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from posewatch.core.landmark_codec import decode, encode, nobody
from posewatch.core.landmarks import JOINTS, LANDMARKS
from posewatch.core.records import N_LANDMARKS, FloatArray, Frame, MeasuringChain, Side

THIGH_M, SHANK_M, CRANK_M = 0.441, 0.443, 0.170
HIP_M = (-0.205, 0.800)
ANKLE_FROM_PEDAL_M = (-0.070, 0.135)
TRUNK_M = 0.52
TRUNK_DEG = 42.0
WRIST_M = (0.42, 0.66)
MM_PER_PX = 4.07
WIDTH_PX, HEIGHT_PX = 640, 480
CRANK_AXIS_PX = np.array((300.0, 330.0))

CHAIN = MeasuringChain("uncalibrated", WIDTH_PX, HEIGHT_PX, 30.0, "linkage", "0" * 64, "none", 1)


@dataclass(frozen=True)
class Pose:
    """What the rider does at one moment; offsets in m from the fitted position.

    seen: somebody is found at all. swapped: the model has mixed up left and right. hidden: joints
    of either side that the model reports with a low visibility.
    """

    crank_deg: float
    torso_deg: float = TRUNK_DEG
    hip_m: tuple[float, float] = (0.0, 0.0)
    wrist_m: tuple[float, float] = (0.0, 0.0)
    seen: bool = True
    swapped: bool = False
    hidden: tuple[str, ...] = ()


def joints_m(pose: Pose) -> dict[str, FloatArray]:
    """Return joint centres in m, x forward, y up, crank axis at the origin."""
    return {name: np.array(place) for name, place in zip(JOINTS, _places_m(pose), strict=True)}


def _places_m(pose: Pose) -> list[tuple[float, float]]:
    """Return the joints in the order of JOINTS, m."""
    turned, lean = math.radians(pose.crank_deg), math.radians(pose.torso_deg)
    ankle_x = CRANK_M * math.sin(turned) + ANKLE_FROM_PEDAL_M[0]
    ankle_y = CRANK_M * math.cos(turned) + ANKLE_FROM_PEDAL_M[1]
    hip_x, hip_y = HIP_M[0] + pose.hip_m[0], HIP_M[1] + pose.hip_m[1]
    along_x, along_y = ankle_x - hip_x, ankle_y - hip_y
    reach = math.hypot(along_x, along_y)
    a = (THIGH_M**2 - SHANK_M**2 + reach**2) / (2 * reach)
    height = math.sqrt(THIGH_M**2 - a**2)
    knee_x = hip_x + (a * along_x - height * along_y) / reach
    knee_y = hip_y + (a * along_y + height * along_x) / reach
    shoulder_x = hip_x + TRUNK_M * math.cos(lean)
    shoulder_y = hip_y + TRUNK_M * math.sin(lean)
    wrist_x, wrist_y = WRIST_M[0] + pose.wrist_m[0], WRIST_M[1] + pose.wrist_m[1]
    return [
        (shoulder_x, shoulder_y),
        ((shoulder_x + wrist_x) / 2, (shoulder_y + wrist_y) / 2 - 0.05),
        (wrist_x, wrist_y),
        (hip_x, hip_y),
        (knee_x, knee_y),
        (ankle_x, ankle_y),
        (ankle_x - 0.06, ankle_y - 0.05),
        (ankle_x + 0.14, ankle_y - 0.09),
    ]


def to_frame(
    t_ns: int, pose: Pose, noise_px: float, random: np.random.Generator, facing: int = 1
) -> Frame:
    """Draw the rider as 33 landmarks in a picture; the far leg is half a turn behind."""
    if not pose.seen:
        return decode(t_ns, nobody())
    points = np.full((N_LANDMARKS, 2), 100.0)
    near, far = (Side.RIGHT, Side.LEFT) if facing > 0 else (Side.LEFT, Side.RIGHT)
    if pose.swapped:
        near, far = far, near
    far_pose = Pose(pose.crank_deg + 180.0, pose.torso_deg, pose.hip_m, pose.wrist_m)
    for side, one in ((near, pose), (far, far_pose)):
        px = np.array(_places_m(one)) / (MM_PER_PX / 1000.0) * (facing, -1.0) + CRANK_AXIS_PX
        points[LANDMARKS[side]] = px
    points += random.normal(0.0, noise_px, points.shape)
    full = np.full(N_LANDMARKS, 0.99)
    visibility = full.copy()
    for name in pose.hidden:
        for side in Side:
            visibility[LANDMARKS[side][JOINTS.index(name)]] = 0.2
    return decode(t_ns, encode(points, visibility, full))


def ride(
    seconds: float,
    pose_at: Callable[[float, float], Pose] | None = None,
    rpm: float = 90.0,
    rate_hz: float = 30.0,
    noise_px: float = 1.0,
    seed: int = 1,
    start_s: float = 0.0,
    facing: int = 1,
) -> Iterator[Frame]:
    """Ride: pose_at(t_s, crank_deg) gives what happens; by default nothing but pedalling."""
    random = np.random.default_rng(seed)
    for index in range(round(seconds * rate_hz)):
        t_s = index / rate_hz
        crank_deg = 6.0 * rpm * t_s
        pose = Pose(crank_deg) if pose_at is None else pose_at(t_s, crank_deg)
        yield to_frame(round((start_s + t_s) * 1e9), pose, noise_px, random, facing)
