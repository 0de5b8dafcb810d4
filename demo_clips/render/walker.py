"""A second person who walks past behind the rider."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.arms import Hand, arm_rotations
from demo_clips.render.bike import FLOOR_M
from demo_clips.render.body import Body
from demo_clips.render.skeleton import Pose, carry, pitch, pose_bones, reach

Array = NDArray[np.float64]

BEHIND_M = 0.85  # from the bike's middle plane
PATH_HALF_M = 2.3  # starts and ends outside the picture
STEP_M = 0.66
SWING_LIFT_M = 0.11
ANKLE_HEIGHT_M = 0.085
HIP_DROP_M = 0.02  # standing height less this, so the knees stay soft


def _ankle(stride: float) -> tuple[float, float, float]:
    """Ankle forward and up from under the hip (m), and toes-down angle, at a share of a stride.

    The first 60 % of a stride the foot stands and falls behind; then it swings forward.
    """
    if stride < 0.6:
        share = stride / 0.6
        push = max(share - 0.75, 0.0) / 0.25
        return STEP_M * (0.5 - share), ANKLE_HEIGHT_M + 0.05 * push**2, 28.0 * push
    share = (stride - 0.6) / 0.4
    forward = -STEP_M * 0.5 * np.cos(np.pi * share)
    lift = SWING_LIFT_M * np.sin(np.pi * share) + 0.05 * (1 - share) ** 2
    return forward, ANKLE_HEIGHT_M + lift, 28.0 * (1 - share) - 12.0 * np.sin(np.pi * share)


def walking_pose(body: Body, share: float, camera_sign: float) -> Pose:
    """The walker at a share (0 to 1) of the way, walking in the direction of travel."""
    rest = body.joints_m
    thigh = body.length_m("upperleg01.R", "lowerleg01.R")
    shank = body.length_m("lowerleg01.R", "foot.R")
    forward = PATH_HALF_M * (2 * share - 1)
    strides = forward / (STEP_M / 0.6)
    height = FLOOR_M + ANKLE_HEIGHT_M + thigh + shank - HIP_DROP_M
    hip = np.array(
        [forward, height - 0.02 * np.sin(2 * np.pi * strides) ** 2, -BEHIND_M * camera_sign]
    )
    turned = {"root": pitch(0.0), "spine03": pitch(3.0), "head": pitch(2.0)}
    trunk = pose_bones(body, hip, turned).joints_m
    for side, sign, phase in (("R", 1.0, 0.0), ("L", -1.0, 0.5)):
        stride = (strides + phase) % 1.0
        ahead, up, toes_down = _ankle(stride)
        start = trunk[f"upperleg01.{side}"]
        ankle = np.array([forward + ahead, FLOOR_M + up, start[2] - 0.03 * sign])
        knee = reach(start, ankle, thigh, shank, np.array([1.0, 0.0, 0.0]))
        lateral = np.array([0.0, 0.0, 1.0])
        for bone, joint, along in (
            ("upperleg01", "lowerleg01", knee - start),
            ("lowerleg01", "foot", ankle - knee),
        ):
            rest_along = rest[f"{joint}.{side}"] - rest[f"{bone}.{side}"]
            turned[f"{bone}.{side}"] = carry(rest_along, lateral, along, lateral)
        turned[f"foot.{side}"] = pitch(toes_down)
        swing = 0.17 * np.cos(2 * np.pi * (stride + 0.5))
        wrist = trunk[f"upperarm01.{side}"] + [swing + 0.03, -0.47, 0.07 * sign]
        hand = Hand(
            wrist_m=wrist,
            elbow_towards=np.array([-1.0, 0.0, 0.2 * sign]),
            knuckles_towards=np.array([swing, -1.0, 0.0]),
            thumb_towards=np.array([1.0, 0.0, -0.3 * sign]),
            curl=0.25,
        )
        turned |= arm_rotations(body, side, trunk[f"upperarm01.{side}"], hand)
    return pose_bones(body, hip, turned)
