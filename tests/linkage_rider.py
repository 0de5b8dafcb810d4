"""A planar linkage rider: exact joints from a crank angle, drawn as landmarks.

Dimensions and the table that tests check are the synthetic rider of the project's reference
arithmetic: thigh .441, shank .443, crank .170 m, crank axis (0, 0), hip (-.205, .800), ankle =
pedal + (-.070, +.135), trunk 42 degrees; knee = forward intersection of the two circles.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, replace

import numpy as np

from posewatch.core import leg_chain
from posewatch.core.landmark_codec import decode, encode, nobody
from posewatch.core.landmarks import ANKLE, HIP, JOINTS, KNEE, LANDMARKS
from posewatch.core.leg_chain import LegCurves
from posewatch.core.measuring_chain import UNCALIBRATED, MeasuringChain
from posewatch.core.plane import CameraProfile, project_px
from posewatch.core.records import N_LANDMARKS, FloatArray, Frame, Side

THIGH_M, SHANK_M, CRANK_M = 0.441, 0.443, 0.170
HIP_M = (-0.205, 0.800)
ANKLE_FROM_PEDAL_M = (-0.070, 0.135)
TRUNK_M = 0.52
TRUNK_DEG = 42.0
WRIST_M = (0.42, 0.66)
MM_PER_PX = 4.07
WIDTH_PX, HEIGHT_PX = 640, 480
CRANK_AXIS_PX = np.array((300.0, 330.0))

CHAIN = MeasuringChain(UNCALIBRATED, WIDTH_PX, HEIGHT_PX, 30.0, "linkage", "0" * 64, "none", 1)


@dataclass(frozen=True)
class Pose:
    """What the rider does at one moment; offsets in m from the fitted position.

    ankle_m: of the ankle in the foot's frame, forward and up while the foot is level; the foot's
    toe points down by toe_down_deg.
    seen: somebody is found at all. swapped: the model has mixed up left and right. hidden: joints
    of either side that the model reports with a low visibility.
    """

    crank_deg: float
    torso_deg: float = TRUNK_DEG
    hip_m: tuple[float, float] = (0.0, 0.0)
    wrist_m: tuple[float, float] = (0.0, 0.0)
    ankle_m: tuple[float, float] = (0.0, 0.0)
    toe_down_deg: float = 0.0
    seen: bool = True
    swapped: bool = False
    hidden: tuple[str, ...] = ()


def joints_m(pose: Pose) -> dict[str, FloatArray]:
    """Return joint centres in m, x forward, y up, crank axis at the origin."""
    return {name: np.array(place) for name, place in zip(JOINTS, _places_m(pose), strict=True)}


def _places_m(pose: Pose) -> list[tuple[float, float]]:
    """Return the joints in the order of JOINTS, m."""
    turned, lean = math.radians(pose.crank_deg), math.radians(pose.torso_deg)
    down = math.radians(pose.toe_down_deg)
    foot_x = ANKLE_FROM_PEDAL_M[0] + pose.ankle_m[0]
    foot_y = ANKLE_FROM_PEDAL_M[1] + pose.ankle_m[1]
    ankle_x = CRANK_M * math.sin(turned) + foot_x * math.cos(down) + foot_y * math.sin(down)
    ankle_y = CRANK_M * math.cos(turned) + foot_y * math.cos(down) - foot_x * math.sin(down)
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


def _drawn_px(pose: Pose, facing: int, camera: CameraProfile | None, is_near: bool) -> FloatArray:
    """Return one half of the body in the picture, (8, 2)."""
    places = np.array(_places_m(pose))
    if camera is None:
        return np.asarray(places / (MM_PER_PX / 1000.0) * (facing, -1.0) + CRANK_AXIS_PX)
    depths = np.array(tuple(asdict(camera.depths).values())) * (1.0 if is_near else -1.0)
    points_mm = np.column_stack((1000.0 * places, depths))
    points_px: FloatArray = project_px(camera.lens, camera.view, points_mm)
    return points_px


def to_frame(
    t_ns: int,
    pose: Pose,
    noise_px: float,
    random: np.random.Generator,
    facing: int = 1,
    camera: CameraProfile | None = None,
) -> Frame:
    """Draw the rider as 33 landmarks in a picture; the far leg is half a turn behind.

    camera: sees every joint at its own depth, from the side that it stands on; without one the
    picture is flat, MM_PER_PX fine, and shows the side that facing gives.
    """
    if not pose.seen:
        return decode(t_ns, nobody())
    if camera is not None:
        facing = 1 if camera.view.side is Side.RIGHT else -1
    points = np.full((N_LANDMARKS, 2), 100.0)
    near, far = (Side.RIGHT, Side.LEFT) if facing > 0 else (Side.LEFT, Side.RIGHT)
    if pose.swapped:
        near, far = far, near
    far_pose = replace(pose, crank_deg=pose.crank_deg + 180.0)
    points[LANDMARKS[near]] = _drawn_px(pose, facing, camera, is_near=True)
    points[LANDMARKS[far]] = _drawn_px(far_pose, facing, camera, is_near=False)
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
    camera: CameraProfile | None = None,
) -> Iterator[Frame]:
    """Ride: pose_at(t_s, crank_deg) gives what happens; by default nothing but pedalling."""
    random = np.random.default_rng(seed)
    for index in range(round(seconds * rate_hz)):
        t_s = index / rate_hz
        crank_deg = 6.0 * rpm * t_s
        pose = Pose(crank_deg) if pose_at is None else pose_at(t_s, crank_deg)
        yield to_frame(round((start_s + t_s) * 1e9), pose, noise_px, random, facing, camera)


def leg_m(pose: Pose) -> FloatArray:
    """Return hip, knee and ankle, (3, 2) m."""
    return np.array(_places_m(pose))[[HIP, KNEE, ANKLE]]


def _leg_curves() -> LegCurves:
    """The leg's exact joints in the flat picture of a rider who faces right, px."""
    crank_deg = np.arange(0.0, 360.0, 3.0)
    legs = np.array([leg_m(Pose(float(deg))) for deg in crank_deg])
    points = legs / (MM_PER_PX / 1000.0) + CRANK_AXIS_PX * (1.0, -1.0)
    return leg_chain.learn(np.radians(crank_deg), points, 1000.0 * THIGH_M / MM_PER_PX)


LEG = _leg_curves()
