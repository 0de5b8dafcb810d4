"""A second person who stands behind the parked bike, one hand on its saddle, one on its bar."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.arms import Hand, arm_rotations
from demo_clips.render.bike import FLOOR_M, HIP_ABOVE_SADDLE_M
from demo_clips.render.rider import SIDES, Rider
from demo_clips.render.skeleton import Pose, carry, pitch, pose_bones, reach, roll, yaw
from demo_clips.render.walker import ANKLE_HEIGHT_M, HIP_DROP_M

Array = NDArray[np.float64]

STANDS_M = (0.10, -0.46)  # forward of the crank axis, and off the middle plane (behind)
TURNED_DEG = 50.0  # from the direction of travel towards the camera
LEAN_DEG, HEAD_LEAN_DEG = 14.0, 16.0
FEET_APART_M = 0.26
SWAY_M, SWAY_S = (0.030, 0.012), (2.7, 1.9)  # sideways and forward, half the way, and its period
SWAY_DEG, SWAY_LEAN_S = 1.5, 3.1


def standing_pose(rider: Rider, time_s: float, camera_sign: float) -> Pose:
    """The person at a time, shifting weight from foot to foot; camera_sign 1 = right-side camera.

    The feet and hands stay where they are.
    """
    body, rest = rider.body, rider.body.joints_m
    facing = yaw(-TURNED_DEG * camera_sign)
    forward, across = facing[:, 0], facing[:, 2]
    sideways, ahead, lean = (
        size * np.sin(2 * np.pi * time_s / period + start)
        for size, period, start in (
            (SWAY_M[0], SWAY_S[0], 0.0),
            (SWAY_M[1], SWAY_S[1], 1.0),
            (SWAY_DEG, SWAY_LEAN_S, 2.0),
        )
    )
    thigh, shank = rider.thigh_m, rider.shank_m
    stand = np.array([STANDS_M[0], FLOOR_M, STANDS_M[1] * camera_sign])
    height = ANKLE_HEIGHT_M + thigh + shank - HIP_DROP_M
    # A shifted weight comes down a little over the loaded leg.
    hip = stand + sideways * across + ahead * forward
    hip[1] += height - 0.6 * abs(sideways)
    turned = {
        "root": facing @ roll(100.0 * sideways) @ pitch(LEAN_DEG / 2),
        "spine03": facing @ pitch(LEAN_DEG + lean),
        "head": facing @ pitch(HEAD_LEAN_DEG),
    }
    trunk = pose_bones(body, hip, turned).joints_m
    lateral = np.array([0.0, 0.0, 1.0])
    hands = _hands(rider, camera_sign)
    for side, sign in SIDES.items():
        start = trunk[f"upperleg01.{side}"]
        ankle = stand + across * sign * FEET_APART_M / 2
        ankle[1] += ANKLE_HEIGHT_M
        knee = reach(start, ankle, thigh, shank, forward)
        for bone, joint, along in (
            ("upperleg01", "lowerleg01", knee - start),
            ("lowerleg01", "foot", ankle - knee),
        ):
            rest_along = rest[f"{joint}.{side}"] - rest[f"{bone}.{side}"]
            turned[f"{bone}.{side}"] = carry(rest_along, lateral, along, across)
        turned[f"foot.{side}"] = facing
        turned |= arm_rotations(body, side, trunk[f"upperarm01.{side}"], hands[side])
    return pose_bones(body, hip, turned)


def _hands(rider: Rider, camera_sign: float) -> dict[str, Hand]:
    """The hand nearer to the rear on the saddle, the other on the far hood."""
    near, far = ("R", "L") if camera_sign > 0 else ("L", "R")
    saddle = rider.hip_m - [0.0, HIP_ABOVE_SADDLE_M, 0.0]
    flat = Hand(
        wrist_m=saddle + np.array([0.0, 0.045, -0.095 * camera_sign]),
        elbow_towards=np.array([-0.7, -0.4, -0.3 * camera_sign]),
        knuckles_towards=np.array([-0.1, -0.25, camera_sign]),
        thumb_towards=np.array([1.0, 0.1, 0.1 * camera_sign]),
        curl=0.35,
    )
    return {near: flat, far: rider.hoods_hand(far)}
